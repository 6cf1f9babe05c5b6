"""Restoring a backup beside a service that runs: never during a pass, and nothing taken in since is left out unsaid."""

import hashlib
import os
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from gramrise.domain.person import Person
from gramrise.domain.problems import CouldNotRun, GramriseError
from gramrise.nightly.inbox import DONE, INBOX
from gramrise.nightly.ingest import take_in_file
from gramrise.nightly.lock import only_one
from gramrise.store import Store, imports_lost, make_home, restore_backup

READ_AT_ONCE_BYTES = 1 << 20


@dataclass(frozen=True, slots=True)
class Restored:
    """`kept`: where what was there lies now. `not_in_backup`: files in `done` whose rows the backup does not hold.

    lost  what else was taken in since and lies only in `kept`: files brought by `import`, and amounts given, in words
    """

    kept: Path | None
    not_in_backup: list[Path]
    lost: list[str] = field(default_factory=list)


def restore_home(home: Path, source: Path, now_utc: datetime) -> Restored:
    """Puts a backup in the place of the database and looks through `done` for what came after it.

    raises as `restore_backup`; CouldNotRun also while a pass is at work
    """
    make_home(home)
    with only_one(home):
        kept = restore_backup(home, source)
        with Store.open(home) as store:
            again = done_but_unknown(store, home, now_utc)
        names = {file.name for file in again}
        try:
            lost = imports_lost(home, kept) if kept is not None else []
        except CouldNotRun:  # what was replaced was damaged: what it held cannot be told
            lost = []
        return Restored(kept, again, [each for each in lost if each.rpartition(" (")[0] not in names])


def done_but_unknown(store: Store, home: Path, now_utc: datetime) -> list[Path]:
    """Files in everybody's `done` folder whose rows the ledger does not have, in order of name.

    Also files of persons whom nobody knows any more. A file whose import was undone is among them.
    """
    known = {(each["person_id"], each["content_hash"]) for each in store.imports()}
    persons = {person.person_id: person for person in store.persons()}
    found = []
    for folder in sorted((home / INBOX).glob(f"*/{DONE}")):
        if folder.is_symlink():
            continue  # what it leads to is not ours
        person = persons.get(folder.parent.name)
        for file in sorted(folder.iterdir()):
            if file.name.startswith(".") or file.is_symlink() or not file.is_file():
                continue
            if person is None or not _is_known(store, home, person, file, known, now_utc):
                found.append(file)
    return found


def _is_known(
    store: Store, home: Path, person: Person, file: Path, known: set[tuple[str, str]], now_utc: datetime
) -> bool:
    """By its bytes; an archive, a sheet or a note is entered under other hashes and is read again, changing nothing."""
    if (person.person_id, _hash_of(file)) in known:
        return True
    try:
        taken = take_in_file(store, home, person, file, now_utc, dry_run=True, replace=True)
    except (GramriseError, OSError):  # it was read once; why it cannot be now is told when it lies in the inbox
        return False
    return taken.rows == 0 and all(each.known_file or each.already_known for each in taken.summaries)


def _hash_of(file: Path) -> str:
    digest = hashlib.sha256()
    with file.open("rb") as content:
        while piece := content.read(READ_AT_ONCE_BYTES):
            digest.update(piece)
    return digest.hexdigest()


def back_into_inbox(home: Path, files: list[Path]) -> int:
    """Moves files from `done` back to where the next pass takes them in. How many. Raises CouldNotRun during a pass."""
    with only_one(home):
        for file in files:
            folder, number = file.parent.parent, 1
            free = folder / file.name
            while free.exists():
                number += 1
                free = folder / f"{file.stem}-{number}{file.suffix}"
            os.replace(file, free)
    return len(files)
