"""Forgetting a person: their rows, and every file of theirs the service keeps in the home."""

import re
import shutil
from pathlib import Path

from gramrise.nightly.inbox import INBOX
from gramrise.nightly.mail.delivery import OUTBOX
from gramrise.nightly.mail.letters import REPORTS
from gramrise.store import Store


def forget_person(store: Store, home: Path, person_id: str) -> int:
    """Takes a person out of the database and deletes their inbox, reports, cards and unsent mail files. How many files.

    Backups made before still hold them; the caller says so. Raises WrongUse for an unknown id; nothing is deleted then.
    """
    store.forget(person_id)
    whose = re.escape(person_id)  # an id may begin like another's: 'mia' and 'mia-2'
    report = re.compile(rf"{whose}-(\d{{4}}-\d\d-\d\d|card-\d+-\w+)\.\w+")
    mail = re.compile(rf"\d{{4}}-\d\d-\d\d-{whose}-[0-9a-f]{{8}}\.eml")
    files = [
        *(home / INBOX / person_id).rglob("*"),
        *(file for file in (home / REPORTS).glob("*") if report.fullmatch(file.name)),
        *(file for file in (home / OUTBOX).glob("*") if mail.fullmatch(file.name)),
    ]
    found = [file for file in files if file.is_file() or file.is_symlink()]
    for file in found:
        file.unlink()
    shutil.rmtree(home / INBOX / person_id, ignore_errors=True)
    return len(found)
