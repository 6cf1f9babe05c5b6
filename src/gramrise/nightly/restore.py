"""Restoring a backup beside a service that runs: never during a pass, and nothing taken in since is left out unsaid."""

import os
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from gramrise.config.private_files import write_whole
from gramrise.domain.person import Person
from gramrise.domain.problems import CouldNotRun, GramriseError
from gramrise.nightly.changes_in_words import described
from gramrise.nightly.inbox import DONE, INBOX
from gramrise.nightly.ingest import take_in_file
from gramrise.nightly.lock import only_one
from gramrise.report import screen_words
from gramrise.store import (
    DATABASE_FILE,
    SENDING,
    WAITING,
    Store,
    changes_of,
    counting_again,
    imports_lost,
    made_since,
    make_home,
    persons_of,
    restore_backup,
    sum_of,
)

if TYPE_CHECKING:
    from cryptography.fernet import Fernet

    from gramrise.store import Change, Device

# Stands from the begin of a restore until what the backup lacks has been told; holds the names of what was kept before.
TO_TELL: Final = f"{DATABASE_FILE}.restore-to-tell"


@dataclass(frozen=True, slots=True)
class Restored:
    """`kept`: where what was there lies now. `not_in_backup`: files in `done` whose rows the backup does not hold.

    replaced  databases of this restore, and of those before it that were cut off, in which `lost` lies
    lost      what else was taken in since and lies only there: files brought by `import`, and amounts given, in words
    changed   facts, answers and counts changed since, in words: they are again what they were
    again     (number, words) of what was taken back since and counts again
    persons   who is here again and was not any more: forgotten since, it may be
    undone    (person, file) of what was brought and taken back: it is not offered again
    unread    names of replaced databases that cannot be read: what was logged in them cannot be told
    let_in    phones that are let in, and letters that wait, as the backup has them; counted where nothing tells what
    waiting   became of them since, for no database that was replaced can be read
    """

    kept: Path | None
    not_in_backup: list[Path]
    replaced: list[Path] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    again: list[tuple[int, str]] = field(default_factory=list)
    persons: list[str] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)
    undone: set[tuple[str, str]] = field(default_factory=set)
    let_in: int = 0
    waiting: int = 0

    @property
    def complete(self) -> bool:
        """Whether nothing was told or taken back since that the backup has otherwise."""
        unknown = self.unread or self.let_in or self.waiting
        return not (self.lost or self.changed or self.again or self.persons or unknown)


def restore_home(home: Path, source: Path, now_utc: datetime, key: "Fernet | None" = None) -> Restored:
    """Puts a backup in the place of the database and looks through `done` for what came after it.

    key    what a sealed backup was sealed with
    raises as `restore_backup`; CouldNotRun also while a pass is at work
    """
    make_home(home)
    with only_one(home):
        before, begun_now = _begin(home)
        try:
            kept = restore_backup(home, source, key)
        except Exception:
            if begun_now:
                restore_told(home)
            raise
        with Store.open(home) as store:
            closed: list[str] = []
            again = done_but_unknown(store, home, now_utc, closed)
            known = {(each["person_id"], each["content_hash"]) for each in store.imports()}
            replaced = [file for file in _replaced(home) if file.name not in before]
            restored = Restored(kept, again, replaced, unread=closed)
            for file in replaced:
                _compare(store, file, restored)
            if all(file.name in restored.unread for file in replaced):
                let_in = sum(_is_let_in(each) for each in store.devices.listed())
                waiting = sum(each.state in {WAITING, SENDING} for each in store.outbox.all())
                restored = replace(restored, let_in=let_in, waiting=waiting)
        told_with = _told_with(again)
        again[:] = [file for file in again if (file.parent.parent.name, file.name) not in restored.undone]
        lost = {mine: told for file in replaced for mine, told in _lost(known, file).items()}
        digests = {digest for _, digest in lost}
        restored.lost.extend(
            _by_name((who, *told) for (who, digest), told in lost.items()
                     if not _is_told_with(told_with, who, digest, told[0], digests))
        )  # fmt: skip
        return restored


def _told_with(again: list[Path]) -> dict[tuple[str, str], set[str]]:
    """The hashes of files in `done` that are offered again, by person and name."""
    found: dict[tuple[str, str], set[str]] = {}
    for file in again:
        found.setdefault((file.parent.parent.name, file.name), set()).add(sum_of(file))
    return found


def _is_told_with(
    told_with: dict[tuple[str, str], set[str]], who: str, digest: str, name: str, digests: set[str]
) -> bool:
    """Whether what was taken in is a file that is offered again: the very same, not another of its name.

    A workbook, an archive or a note is entered under other hashes than its file's: there the name has to do.
    """
    mine = told_with.get((who, name), set())
    return digest in mine or (bool(mine) and not mine & digests)


def _compare(store: Store, replaced: Path, restored: Restored) -> None:
    """Notes what a replaced database has otherwise than the restored one."""
    try:
        had, persons = changes_of(replaced), persons_of(replaced)
    except CouldNotRun:
        restored.unread.append(replaced.name)
        return
    has, here = store.last_changes(None, None), {each.person_id: each for each in store.persons()}
    standing = {(each.person_id, str(each.about["file"])) for each in had if _brought(each) and _stands(each)}
    gone = {(each.person_id, str(each.about["file"])) for each in had if _brought(each) and not _stands(each)}
    restored.undone.update(gone - standing)
    restored.persons.extend(sorted(set(here) - persons - set(restored.persons)))
    for change in made_since(had, has):
        told = f"{change.person_id}: {_described(change, here)}"
        if told not in restored.changed:
            restored.changed.append(told)
    for change in counting_again(had, has):
        told = f"{change.person_id}: {_described(change, here)}"
        if (change.change_id, told) not in restored.again:
            restored.again.append((change.change_id, told))


def _is_let_in(device: "Device") -> bool:
    return device.let_in_at_utc is not None and device.shut_out_at_utc is None


def _brought(change: "Change") -> bool:
    return change.kind == "import" and "file" in change.about


def _stands(change: "Change") -> bool:
    return change.taken_back_at_utc is None


def _described(change: "Change", here: dict[str, Person]) -> str:
    """A change in its person's words; of a person whom the backup does not know, its kind."""
    person = here.get(change.person_id)
    return change.kind if person is None else described(change, person, screen_words(person.language))


def restore_told(home: Path) -> None:
    """Whoever restores has been told what the backup lacks."""
    (home / TO_TELL).unlink(missing_ok=True)


def restore_untold(home: Path) -> bool:
    """Whether a restore was cut off before it named what the backup lacks: the next one names it."""
    return (home / TO_TELL).exists()


def _begin(home: Path) -> tuple[set[str], bool]:
    """Names of databases replaced by restores that were told; and whether this is the first that was not yet."""
    mark = home / TO_TELL
    begun_now = not mark.exists()
    if begun_now:
        write_whole(mark, "\n".join(file.name for file in _replaced(home)).encode())
    return set(mark.read_text("utf-8").split("\n")), begun_now


def _replaced(home: Path) -> list[Path]:
    """The databases that restores replaced, without their side files."""
    return sorted(file for file in home.glob(f"{DATABASE_FILE}.before-restore-*") if file.name[-1].isdigit())


def _lost(known: set[tuple[str, str]], replaced: Path) -> dict[tuple[str, str], tuple[str, int]]:
    try:
        return imports_lost(known, replaced)
    except CouldNotRun:  # what was replaced was damaged: what it held cannot be told
        return {}


def _by_name(lost: Iterable[tuple[str, str, int]]) -> list[str]:
    """'march.csv (mia): 1692 rows'; what was brought or typed more than once under one name, 'give (mia): 4 times'."""
    rows: dict[tuple[str, str], list[int]] = {}
    for who, file, count in lost:
        rows.setdefault((file, who), []).append(count)
    return [
        f"{file} ({who}): {sum(counts)} rows" + (f", brought {len(counts)} times" if len(counts) > 1 else "")
        for (file, who), counts in rows.items()
    ]


def done_but_unknown(store: Store, home: Path, now_utc: datetime, unread: list[str]) -> list[Path]:
    """Files in everybody's `done` folder whose rows the ledger does not have, in order of name.

    Also files of persons whom nobody knows any more. A file whose import was undone is among them. The names of
    folders that cannot be opened are put into `unread`.
    """
    known = {(each["person_id"], each["content_hash"]) for each in store.imports()}
    persons = {person.person_id: person for person in store.persons()}
    found = []
    for folder in sorted((home / INBOX).glob(f"*/{DONE}")):
        if os.path.islink(folder) or os.path.islink(folder.parent):
            continue  # what it leads to is not ours
        person = persons.get(folder.parent.name)
        try:
            files = sorted(folder.iterdir())
        except OSError:
            unread.append(f"{INBOX}/{folder.parent.name}/{DONE}")
            continue
        for file in files:
            if file.name.startswith(".") or file.is_symlink() or not file.is_file():
                continue
            if person is None or not _is_known(store, home, person, file, known, now_utc):
                found.append(file)
    return found


def _is_known(
    store: Store, home: Path, person: Person, file: Path, known: set[tuple[str, str]], now_utc: datetime
) -> bool:
    """By its bytes; an archive, a sheet or a note is entered under other hashes and is read again, changing nothing."""
    if (person.person_id, sum_of(file)) in known:
        return True
    try:
        taken = take_in_file(store, home, person, file, now_utc, dry_run=True, replace=True)
    except (GramriseError, OSError):  # it was read once; why it cannot be now is told when it lies in the inbox
        return False
    return taken.rows == 0 and all(each.known_file or each.already_known for each in taken.summaries)


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
