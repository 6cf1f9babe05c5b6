"""Files moved out of the inbox under a name that is free and not too long, and the reason beside a held one."""

import os
from pathlib import Path
from typing import Final

from gramrise.config.private_files import private_folder, write_whole

WHY: Final = ".why.txt"
# What a name may take on most file systems is 255 bytes; the reason's ending and a number have to fit behind it.
MOST_NAME_BYTES: Final = 255 - len(WHY) - 8


def move(file: Path, into: str) -> Path:
    """Moves a file into a folder beside it under the first free name; in one step, so it is never in neither."""
    folder = file.parent / into
    private_folder(folder)
    free = first_free(folder / file.name)
    os.replace(file, free)
    return free


def hold(file: Path, into: str, sentence: str) -> None:
    """Moves a file that cannot be read, and writes why beside it."""
    held = move(file, into)
    told = f"{sentence}\nOnce mended, put the file back into the inbox.\n"
    write_whole(held.with_name(held.name + WHY), told.encode("utf-8", "backslashreplace"), synced=False)


def first_free(path: Path) -> Path:
    """The path, its name cut where it is too long; else the first with a number that nothing has."""
    ending = path.suffix if len(os.fsencode(path.suffix)) < MOST_NAME_BYTES // 2 else ""
    stem = path.name[: len(path.name) - len(ending)]
    while len(os.fsencode(stem + ending)) > MOST_NAME_BYTES:
        stem = stem[:-1]
    number, free = 1, path.with_name(stem + ending)
    while os.path.lexists(free):
        number += 1
        free = path.with_name(f"{stem}-{number}{ending}")
    return free
