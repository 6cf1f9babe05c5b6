"""Files moved out of the inbox under a name that is free and not too long, and the reason beside a held one."""

import errno
import os
from pathlib import Path
from typing import Final

from gramrise.config.private_files import private_folder, write_whole

WHY: Final = ".why.txt"
# What a name may take on most file systems is 255 bytes; the reason's ending and a number have to fit behind it.
MOST_NAME_BYTES: Final = 255 - len(WHY) - 8


def move(file: Path, into: str, of: Path | None = None) -> Path:
    """Moves a file into a folder under the first free name; in one step, so it is never in neither.

    of  where that folder lies; None: beside the file
    """
    free = first_free(_folder(of or file.parent, into) / file.name)
    os.replace(file, free)
    return free


def hold(file: Path, into: str, sentence: str) -> None:
    """Writes why a file cannot be read, then moves it there: whatever ends us between leaves no file without reason."""
    held = first_free(_folder(file.parent, into) / file.name)
    told = f"{sentence}\n".encode("utf-8", "backslashreplace")
    write_whole(held.with_name(held.name + WHY), told, synced=False)
    os.replace(file, held)


def _folder(of: Path, into: str) -> Path:
    """A folder in another; raises OSError where a link stands there: what it leads to is not ours."""
    folder = of / into
    if folder.is_symlink():
        raise OSError(errno.ELOOP, f"'{into}' is a link", str(folder))
    private_folder(folder)
    return folder


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
