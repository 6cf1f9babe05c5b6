"""Looks at the files of an inbox: which lie still, and which are no plain files and are never opened."""

import os
import stat
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Final

from gramrise.domain.person import Person
from gramrise.domain.printable import printable
from gramrise.nightly.inbox.folders import DONE, HELD, INBOX, MEMORY, shared_folders

Look = tuple[int, int, int]  # size, time of change of the content, of the entry

# Programs that fetch or copy a file call it so until it is whole.
_NOT_WHOLE: Final = (".part", ".partial", ".crdownload", ".download", ".tmp")
# Hidden files that systems and programs of copying keep in folders, and our own memory: no news to anybody.
_HOUSEKEEPING: Final = (
    MEMORY, "._", "..", ".DS_Store", ".Trash", ".directory", ".fuse_hidden", ".gitkeep", ".growing", ".keep",
    ".localized", ".nfs", ".stfolder", ".stignore", ".stversions", ".sync", ".~",
)  # fmt: skip
_KINDS: Final = (
    (stat.S_ISLNK, "a link"),
    (stat.S_ISFIFO, "a named pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISDIR, "a folder"),
)


def lying_still(
    home: Path, persons: list[Person], rest_seconds: float, sleep: Callable[[float], None] = time.sleep
) -> dict[str, list[Path]]:
    """The files of each inbox that did not change for `rest_seconds`, oldest first; one pause serves all inboxes.

    What was saved later corrects what was saved before, whatever the files are called.

    An inbox that is another person's too has none.
    """
    shared = shared_folders(home, persons)
    seen = {
        person.person_id: {} if person.person_id in shared else looks_at(home / INBOX / person.person_id)
        for person in persons
    }
    young = any(_age_seconds(look) < rest_seconds for looks in seen.values() for look in looks.values())
    if young:
        sleep(rest_seconds)
    return {
        person_id: sorted(
            (file for file, look in looks.items() if look_at(file) == look),
            key=lambda file, looks=looks: (looks[file][1], file.name),  # type: ignore[misc]
        )
        for person_id, looks in seen.items()
    }


def looks_at(folder: Path) -> dict[Path, Look]:
    """The plain files of a folder, in order of name; hidden ones, and those that are not whole yet, are none."""
    files = sorted((file for file in _entries(folder) if not _passed_over(file.name)), key=lambda file: file.name)
    return {file: look for file in files if (look := look_at(file)) is not None}


def _passed_over(name: str) -> bool:
    return name.startswith(".") or _is_part(name)


def _is_part(name: str) -> bool:
    return name.casefold().endswith(_NOT_WHOLE)


def _entries(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except OSError:
        return []


def look_at(file: Path) -> Look | None:
    """Size and times of a plain file; None for anything else (a folder, a link, a file that has gone)."""
    try:
        found = os.lstat(file)
    except OSError:
        return None
    return (found.st_size, found.st_mtime_ns, found.st_ctime_ns) if stat.S_ISREG(found.st_mode) else None


def left_alone(home: Path, persons: list[Person]) -> list[str]:
    """A sentence for each entry of an inbox that is never opened: no plain file, a hidden one, or one not whole yet."""
    told = []
    for person in persons:
        for path in sorted(_entries(home / INBOX / person.person_id)):
            if path.name in {DONE, HELD} or (path.name.startswith(_HOUSEKEEPING) and path.name.strip(".")):
                continue  # a name of dots alone is nobody's housekeeping
            told += _why_alone(path, f"{INBOX}/{person.person_id}/{printable(path.name)}")
    return told


def _why_alone(path: Path, name: str) -> list[str]:
    kind, hidden = _kind(path), path.name.startswith(".")
    if kind:
        told = f"{name}: it is {kind} and is not read. To mend: put the file itself into the inbox."
        return [] if hidden else [told]
    if _is_part(path.name):
        return [
            f"{name}: it is named as a file that is not whole yet, and is not read. "
            "To mend: let the program that fetches it end, or fetch it again."
        ]
    if hidden:
        return [f"{name}: it is a hidden file and is not read. To mend: give it a name without the dot before it."]
    return []


def _kind(path: Path) -> str:
    try:
        mode = os.lstat(path).st_mode
    except OSError:
        return ""
    return next((name for holds, name in _KINDS if holds(mode)), "")


def _age_seconds(look: Look) -> float:
    """Since the last change, by the machine's clock; a copy may carry an old time of content, never one of entry."""
    return (time.clock_gettime_ns(time.CLOCK_REALTIME) - max(look[1], look[2])) / 1e9


def waiting_files(home: Path, persons: list[Person]) -> int:
    """How many files lie in the inboxes and are taken in next: those of a folder that two share are never read."""
    shared = shared_folders(home, persons)
    own = [person.person_id for person in persons if person.person_id not in shared]
    return sum(len(looks_at(home / INBOX / person_id)) for person_id in own)


def oldest_age(home: Path, persons: list[Person]) -> timedelta:
    """How long the longest-lying file has been in an inbox; 0 when all are empty."""
    looks = (look for person in persons for look in looks_at(home / INBOX / person.person_id).values())
    return timedelta(seconds=max((_age_seconds(look) for look in looks), default=0.0))
