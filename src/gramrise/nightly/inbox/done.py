"""Files in done/ that were written to after they were taken in: they come back into the inbox, to be read again."""

import json
import os
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from gramrise.config.private_files import remove_cut_off, write_whole
from gramrise.domain.person import Person
from gramrise.domain.printable import printable
from gramrise.nightly.inbox.folders import DONE, INBOX, MEMORY
from gramrise.nightly.inbox.looks import look_at
from gramrise.nightly.inbox.moves import first_free
from gramrise.store import sum_of

_HASH: Final = 2  # behind size and time; memories of before have none
MOST_MEMORY_BYTES: Final = 1_000_000  # some ten times what is ever kept
MOST_REMEMBERED: Final = 500  # files of one person; our choice: nobody writes on to a file of a year ago


def remember(moved: Path) -> None:
    """Keeps size, time and hash of a file that was just moved into done/."""
    look = look_at(moved)
    if look is None:
        return
    folder = moved.parent.parent
    known = _remembered(folder)
    known.pop(moved.name, None)
    known[moved.name] = [look[0], look[1], sum_of(moved)]
    with suppress(IsADirectoryError, NotADirectoryError, PermissionError):  # told of by the next look at this folder
        _keep(folder, known)


def bring_back_grown(home: Path, persons: list[Person]) -> list[str]:
    """Moves every file of done/ that has changed since back into the inbox, and says so. Rows known are known then."""
    told: list[str] = []
    for person in persons:
        try:
            _bring_back(home / INBOX / person.person_id, person.person_id, told)
        except OSError as trouble:  # one folder costs nobody else their night
            told.append(
                f"{INBOX}/{person.person_id}: what lies in done/ could not be looked at: {trouble.strerror}. "
                "To mend: see that it is a folder of the user who runs gramrise, and that the disk has room."
            )
    return told


def _bring_back(folder: Path, person_id: str, told: list[str]) -> None:
    remove_cut_off(folder / MEMORY)
    known = _remembered(folder)
    for name, seen in list(known.items()):
        file = folder / DONE / name
        look = look_at(file)
        if look is not None and [look[0], look[1]] == seen[:2]:
            continue
        if look is not None and len(seen) > _HASH and look[0] == seen[0] and sum_of(file) == seen[_HASH]:
            known[name] = [look[0], look[1], seen[_HASH]]  # copied or touched: not a byte is another
            _keep(folder, known)
            continue
        del known[name]
        if look is not None:
            back = first_free(folder / name)
            os.replace(file, back)
            told.append(
                f"{INBOX}/{person_id}/{printable(back.name)}: it was written to after it was taken in, and "
                "is read again."
            )
        _keep(folder, known)


def _remembered(folder: Path) -> dict[str, list[Any]]:
    """What was kept of files in done/, by name; nothing of a file that is no memory of ours: a family writes here."""
    look = look_at(folder / MEMORY)  # a pipe would be waited for without end
    if look is None or look[0] > MOST_MEMORY_BYTES:
        return {}
    try:
        known = json.loads((folder / MEMORY).read_bytes())
    except (OSError, ValueError, RecursionError):
        return {}
    return {name: seen for name, seen in known.items() if _is_ours(name, seen)} if isinstance(known, dict) else {}


def _is_ours(name: str, seen: Any) -> bool:
    """Whether an entry is the name of a file of done/ itself, with size, time and hash."""
    try:
        os.fsencode(name)
    except UnicodeEncodeError:
        return False
    plain = name not in {"", ".", ".."} and "/" not in name and "\0" not in name
    return plain and isinstance(seen, list) and len(seen) >= _HASH


def _keep(folder: Path, known: dict[str, list[Any]]) -> None:
    latest = dict(list(known.items())[-MOST_REMEMBERED:])
    write_whole(folder / MEMORY, json.dumps(latest).encode(), synced=False)
