"""Reads, stores and moves the files of one inbox. Whatever a file does, it alone is held; the ones after it land."""

import errno
import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Final

from gramrise.domain.person import Person
from gramrise.domain.printable import printable
from gramrise.domain.problems import CouldNotRun, GramriseError, place_of
from gramrise.nightly.inbox.done import remember
from gramrise.nightly.inbox.folders import DONE, HELD
from gramrise.nightly.inbox.looks import Look, look_at
from gramrise.nightly.inbox.moves import hold, move
from gramrise.nightly.ingest import Means, take_in_file
from gramrise.nightly.logs import say
from gramrise.report import in_language
from gramrise.store import Store

_MENDS: Final = {
    errno.EROFS: "the disk is mounted for reading only; mount it for writing",
    errno.ENOSPC: "the disk is full; make room",
    errno.EDQUOT: "the user's share of the disk is used up; make room",
    errno.ELOOP: "remove the link, so that the folder can be made",
    errno.EXDEV: "let the folders `done` and `held` lie on the disk of their inbox",
    errno.EIO: "the disk fails; copy what is on it, and replace it",
}


class StillWritten(GramriseError):
    """A file changed while it was read. It stays where it is and is read at the next pass."""

    code = "still_written"

    def __init__(self, file: str) -> None:
        super().__init__(
            f"{file}: it was written to while it was read; nothing of it was taken in, the next pass reads it again"
        )


@dataclass(slots=True)
class TakenIn:
    """What came of one person's inbox; sentences name the file and are for the family's eyes."""

    files: int = 0
    held: int = 0
    rows: int = 0
    sentences: list[str] = field(default_factory=list)


def take_in_files(
    store: Store,
    home: Path,
    person: Person,
    files: list[Path],
    now_utc: datetime,
    means: Callable[[], Means],
    taken: TakenIn,
) -> None:
    """Reads, stores and moves each file. A file that cannot be read is held with its reason; the rest go on.

    means   what files are read with (`ingest.means_of`)
    taken   what came of them is added to it, also where an error ends the work
    raises CouldNotRun when the database cannot be written (damaged, locked, disk full); files then stay where they are
    """
    try:
        if files:
            means()
    except CouldNotRun:
        raise
    except GramriseError as trouble:  # settings, a layout: no fault of these files, which are read once it is mended
        taken.sentences.append(f"{person.person_id}: nothing of the inbox was read, its files wait. {trouble}")
        return
    for file in files:
        try:
            _take_in(taken, store, home, person.person_id, file, now_utc, means)
        except CouldNotRun:
            raise
        except OSError as trouble:
            taken.sentences.append(_cannot(file, trouble))


def _take_in(
    taken: TakenIn,
    store: Store,
    home: Path,
    person_id: str,
    file: Path,
    now_utc: datetime,
    means: Callable[[], Means],
) -> None:
    seen = look_at(file)
    if seen is None:
        return
    try:
        # The person as stored now: the file before this one may have brought a weight.
        person = store.person(person_id)
        found = take_in_file(
            store,
            home,
            person,
            file,
            now_utc,
            means=means,
            whole_refusal=True,
            before_commit=lambda: _refuse_changed(file, seen),
        )
    except CouldNotRun:
        raise
    except StillWritten as trouble:
        taken.sentences.append(str(trouble))
        return
    except GramriseError as trouble:
        if trouble.code == "reading_failed":
            say("file held by a fault", logging.ERROR, place=place_of(trouble.__cause__ or trouble))
        taken.sentences.append(str(trouble))
        again = "Once mended, put the file back into the inbox."
        hold(file, HELD, "\n".join(in_language(told, person.language) for told in (str(trouble), again)))
        taken.held += 1
        return
    taken.sentences += [held.trouble.sentence for held in found.quarantine]
    taken.sentences += [f"{printable(file.name)}: {remark}" for remark in found.remarks]
    taken.rows += found.rows
    taken.files += 1
    if look_at(file) == seen:  # else more was added since the commit: it stays, and the next pass finds the rest
        remember(move(file, DONE))


def _refuse_changed(file: Path, seen: Look) -> None:
    if look_at(file) != seen:
        raise StillWritten(printable(file.name))


def _cannot(file: Path, trouble: OSError) -> str:
    mend = _MENDS.get(trouble.errno or 0, "look at its rights, and at those of the folder")
    return f"{printable(file.name)}: it cannot be opened or moved: {trouble.strerror}. To mend: {mend}."
