"""Forgetting a person: their rows, and every file of theirs the service keeps in the home."""

import os
import re
import shutil
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from gramrise.domain.problems import CouldNotRun
from gramrise.nightly.inbox import INBOX
from gramrise.nightly.lock import only_one
from gramrise.nightly.mail.delivery import OUTBOX
from gramrise.nightly.mail.letters import REPORTS
from gramrise.store import Store, copies, erase_from_copy, remove_unfinished_copies


@dataclass(frozen=True, slots=True)
class Forgotten:
    """What became of a person's data: files deleted, copies they were taken out of, copies that may still hold them.

    The copies are told with the day they were made: 'before-step-after-0001.db of 2026-03-01'.
    """

    files: int
    copies: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)


def forget_person(store: Store, home: Path, person_id: str) -> Forgotten:
    """Takes a person out of the database and its copies in the home, and deletes their inbox, reports, cards and mail.

    Killed at any moment, it can be run again and does what is left. Backups written elsewhere still hold them; the
    caller says so. Raises WrongUse for an id nobody has or had, CouldNotRun while a pass is at work; nothing is
    deleted then.
    """
    with only_one(home):
        store.begin_forgetting(person_id)
        files = _delete_files(home, person_id)
        _refuse_left(home / INBOX / person_id)
        remove_unfinished_copies(home)
        done, left = [], []
        for copy in copies(home):
            told = f"{copy.name} of {datetime.fromtimestamp(copy.stat().st_mtime, UTC):%Y-%m-%d}"
            try:
                if erase_from_copy(copy, person_id):
                    done.append(told)
            except CouldNotRun as trouble:
                left.append(f"{told}: {trouble.what}")
        store.end_forgetting(person_id)
    return Forgotten(files, done, left)


def _refuse_left(folder: Path) -> None:
    """Raises CouldNotRun where a person's inbox could not be deleted: it is not over then, and can be run again."""
    if os.path.lexists(folder):
        raise CouldNotRun(
            f"{INBOX}/{folder.name} could not be deleted, and files of theirs may lie in it",
            "see that it is a folder of the user who runs gramrise",
        )


def _delete_files(home: Path, person_id: str) -> int:
    """Files named after the person, those half written among them. How many."""
    whose = re.escape(person_id)  # an id may begin like another's: 'mia' and 'mia-2'
    # A file is first written as `.NAME.growing`: one that was cut off stays under that name.
    report = re.compile(rf"\.?{whose}-(\d{{4}}-\d\d-\d\d|card-\d+-\w+)\.\w+(\.growing)?")
    mail = re.compile(rf"\.?\d{{4}}-\d\d-\d\d-{whose}-[0-9a-f]{{8}}\.eml(\.growing)?")
    inbox = home / INBOX / person_id
    files = [
        *(() if os.path.islink(inbox) else inbox.rglob("*")),  # what a link leads to is not ours
        *(file for file in (home / REPORTS).glob("*") if report.fullmatch(file.name)),
        *(file for file in (home / OUTBOX).glob("*") if mail.fullmatch(file.name)),
    ]
    found = [file for file in files if os.path.islink(file) or not os.path.isdir(file)]
    for file in found:
        file.unlink(missing_ok=True)
    if os.path.islink(inbox):
        inbox.unlink()
    shutil.rmtree(inbox, ignore_errors=True)
    return len(found)
