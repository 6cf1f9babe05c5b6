"""The inbox: `inbox/<person>/` in the home. A file is read once it lies still, and moved only after the commit.

done/   its rows are in the database
held/   it could not be read; a text file beside it says why and how to mend it
"""

import os
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from gramrise.domain.person import Person
from gramrise.domain.problems import CouldNotRun, GramriseError
from gramrise.nightly.ingest import Means, take_in_file
from gramrise.store import Store

INBOX: Final = "inbox"
DONE: Final = "done"
HELD: Final = "held"
Look = tuple[int, int, int]  # size, time of change of the content, of the entry


@dataclass(slots=True)
class TakenIn:
    """What came of one person's inbox; sentences name the file and are for the family's eyes."""

    files: int = 0
    held: int = 0
    rows: int = 0
    sentences: list[str] = field(default_factory=list)


def make_inboxes(home: Path, persons: list[Person]) -> None:
    """A folder for everybody, readable by the owner only."""
    for person in persons:
        folder = home / INBOX / person.person_id
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)


def lying_still(
    home: Path, persons: list[Person], rest_seconds: float, sleep: Callable[[float], None] = time.sleep
) -> dict[str, list[Path]]:
    """The files of each inbox that did not change for `rest_seconds`; one pause serves all inboxes together."""
    seen = {person.person_id: _looks(home / INBOX / person.person_id) for person in persons}
    young = any(_age_seconds(look) < rest_seconds for looks in seen.values() for look in looks.values())
    if young:
        sleep(rest_seconds)
    return {
        person_id: [file for file, look in looks.items() if _look(file) == look] for person_id, looks in seen.items()
    }


def _looks(folder: Path) -> dict[Path, Look]:
    if not folder.is_dir():
        return {}
    files = sorted(file for file in folder.iterdir() if not file.name.startswith("."))
    return {file: look for file in files if (look := _look(file)) is not None}


def _look(file: Path) -> Look | None:
    """Size and times of a plain file; None for anything else (a folder, a link, a file that has gone)."""
    try:
        if file.is_symlink() or not file.is_file():
            return None
        found = file.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns, found.st_ctime_ns


def _age_seconds(look: Look) -> float:
    """Since the last change, by the machine's clock; a copy may carry an old time of content, never one of entry."""
    return (time.clock_gettime_ns(time.CLOCK_REALTIME) - max(look[1], look[2])) / 1e9


def take_in_files(
    store: Store, home: Path, person: Person, files: list[Path], now_utc: datetime, means: Callable[[], Means]
) -> TakenIn:
    """Reads, stores and moves each file. A file that cannot be read is held with its reason; the rest go on.

    means   what files are read with (`taking_in.means_of`)
    raises CouldNotRun when the database cannot be written (damaged, locked, disk full); files then stay where they are
    """
    taken = TakenIn()
    for file in files:
        try:
            # The person as stored now: the file before this one may have brought a weight.
            now_known = store.person(person.person_id)
            found = take_in_file(store, home, now_known, file, now_utc, means=means)
            taken.sentences += [held.trouble.sentence for held in found.quarantine]
            taken.rows += found.rows
            _move(file, DONE)
            taken.files += 1
        except CouldNotRun:
            raise
        except GramriseError as trouble:
            taken.sentences.append(str(trouble))
            _hold(file, str(trouble))
            taken.held += 1
        except OSError as trouble:
            taken.sentences.append(
                f"{file.name}: it cannot be opened or moved: {trouble.strerror}. To mend: look at its rights."
            )
    return taken


def _hold(file: Path, sentence: str) -> None:
    held = _move(file, HELD)
    why = held.with_name(held.name + ".why.txt")
    why.write_text(sentence + "\nOnce mended, put the file back into the inbox.\n", encoding="utf-8")


def _move(file: Path, into: str) -> Path:
    """Moves a file into a folder beside it under the first free name; in one step, so it is never in neither."""
    folder = file.parent / into
    folder.mkdir(exist_ok=True, mode=0o700)
    number, free = 1, folder / file.name
    while free.exists():
        number += 1
        free = folder / f"{file.stem}-{number}{file.suffix}"
    os.replace(file, free)
    return free


def waiting_files(home: Path, persons: list[Person]) -> int:
    """How many files lie in the inboxes and were not taken in yet."""
    return sum(len(_looks(home / INBOX / person.person_id)) for person in persons)


def held_files(home: Path) -> int:
    """How many files wait in held/ folders."""
    return sum(1 for file in (home / INBOX).glob(f"*/{HELD}/*") if not file.name.endswith(".why.txt"))


def for_nobody(home: Path, persons: list[Person]) -> list[str]:
    """What lies in the inbox outside everybody's folder, in order of name, a sentence each: it is never read."""
    ids = sorted(person.person_id for person in persons)
    here = sorted((home / INBOX).iterdir()) if (home / INBOX).is_dir() else []
    strange = [path for path in here if not path.name.startswith(".") and (path.name not in ids or not path.is_dir())]
    return [_for_nobody(path, ids) for path in strange]


def _for_nobody(path: Path, ids: list[str]) -> str:
    folders = ", ".join(f"{INBOX}/{each}" for each in ids) or "none yet: gramrise person add"
    if not path.is_dir():
        what = f"{INBOX}/{path.name}: a file in no person's folder is not read"
        return f"{what}. To mend: move it into the folder of its person ({folders})."
    files = len(_looks(path))
    what = f"{INBOX}/{path.name}: nobody here has the id '{path.name}'"
    if not files:
        return f"{what}. To mend: remove the folder; people's are {folders}."
    whose = "its one file is" if files == 1 else f"its {files} files are"
    return f"{what}; {whose} not read. To mend: move what is in it into the folder of its person ({folders})."


def oldest_age(home: Path, persons: list[Person]) -> timedelta:
    """How long the longest-lying file has been in an inbox; 0 when all are empty."""
    looks = (look for person in persons for look in _looks(home / INBOX / person.person_id).values())
    return timedelta(seconds=max((_age_seconds(look) for look in looks), default=0.0))
