"""A copy of the database while it may be in use, proved whole before it gets its name."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from gramrise.config.settings import database_url
from gramrise.domain.problems import CouldNotRun, WrongUse, refused_by_disk
from gramrise.store.database import DATABASE_FILE, engine_for, make_file, refuse_damaged
from gramrise.store.keeping import file_of_server, seal, write_checksum
from gramrise.store.troubles import damaged, explained, trouble_of

if TYPE_CHECKING:
    from cryptography.fernet import Fernet

# Pages copied at once: the whole file in one step, so that the copy is one instant however often others write.
ALL_PAGES = -1
GROWING = ".growing"
# Copies on their way, in the home: what is collected from a server, what is not sealed yet or no longer.
COLLECTED = f"{DATABASE_FILE}.collected"
UNSEALED = f"{DATABASE_FILE}.unsealed"


def write_backup(home: Path, to: Path, key: "Fernet | None" = None) -> None:
    """Writes a copy of the home's database to `to`, readable by its owner only, and its check sum beside it.

    key    seals the copy; None: whoever can read the file can read the rows
    raises WrongUse when `to` is there already or there is no database; CouldNotRun when the database is damaged:
    a damaged database is never copied over anything
    """
    url, source = database_url(home), home / DATABASE_FILE
    if url is None and not source.exists():
        raise WrongUse(f"there is no database in {home}", "name the home folder with --home")
    if to.exists():
        raise WrongUse(f"{to} is there already", "name a file that is not; old backups are not overwritten")
    if not to.parent.is_dir():
        raise WrongUse(f"there is no folder {to.parent} to write the copy into", "make it, or name a file elsewhere")
    if not os.access(to.parent, os.W_OK | os.X_OK):
        raise WrongUse(f"nothing may be written into the folder {to.parent}", "name a file in one that you may write")
    if url is None:
        refuse_damaged(source, whole=True)
    if key is None:
        copy_rows_of(home, to, with_sum=True)
        return
    plain = home / UNSEALED
    try:
        copy_rows_of(home, plain)
        seal(plain, to, key)
    except OSError as problem:
        raise _not_copied(problem, source, to) from problem
    finally:
        plain.unlink(missing_ok=True)


def copy_rows_of(home: Path, to: Path, *, with_sum: bool = False) -> None:
    """Copies a home's rows into a new file of SQLite's, wherever they are kept. Raises CouldNotRun."""
    url = database_url(home)
    if url is None:
        copied_whole(home / DATABASE_FILE, to, with_sum=with_sum)
        return
    collected = home / COLLECTED
    engine = engine_for(url)
    try:
        _without_sides(collected)
        with explained(Path(engine.url.database or DATABASE_FILE)):
            file_of_server(engine, collected)
        copied_whole(collected, to, with_sum=with_sum)
    finally:
        engine.dispose()
        _without_sides(collected)


def _without_sides(file: Path) -> None:
    """Deletes a file of SQLite's with those beside it."""
    for suffix in ("", "-wal", "-shm", "-journal"):
        file.with_name(file.name + suffix).unlink(missing_ok=True)


def before_migration(home: Path, step: str) -> Path:
    """Keeps the database as it stands before its tables change, in `backups`; one kept already stays."""
    folder = home / "backups"
    folder.mkdir(mode=0o700, exist_ok=True)
    kept = folder / f"before-step-after-{step}.db"
    if not kept.exists() and database_url(home) is None:
        copied_whole(home / DATABASE_FILE, kept)
    return kept


def copied_whole(source: Path, to: Path, *, with_sum: bool = False) -> None:
    """Copies under another name, proves the copy, then gives it its name: a half copy is never taken for one.

    with_sum  writes the check sum before the name, so that a copy never stands without it
    """
    growing = to.with_name(to.name + GROWING)
    growing.unlink(missing_ok=True)
    try:
        make_file(growing)
        with (
            closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as here,
            closing(sqlite3.connect(growing)) as there,
        ):
            here.backup(there, pages=ALL_PAGES)
            there.execute("PRAGMA journal_mode=DELETE")
            verdict = there.execute("PRAGMA integrity_check(1)").fetchone()[0]
        if verdict != "ok":
            raise sqlite3.DatabaseError(f"database disk image is malformed: {verdict}")
        if with_sum:
            write_checksum(growing, to)
        os.replace(growing, to)
        sync_folder(to.parent)
    except (sqlite3.Error, OSError, CouldNotRun) as problem:
        for beside in ("", "-journal", "-wal", "-shm"):
            growing.with_name(growing.name + beside).unlink(missing_ok=True)
        raise _not_copied(problem, source, growing) from problem


def _not_copied(problem: Exception, source: Path, growing: Path) -> CouldNotRun:
    known = (
        problem
        if isinstance(problem, CouldNotRun)
        else refused_by_disk(problem)
        if isinstance(problem, OSError)
        else trouble_of(problem, growing)
    )
    if known is None:
        return CouldNotRun(f"the copy could not be written: {problem}", "make room, or choose another place")
    if known.code == "database_damaged":
        return damaged(source.name, str(problem))
    return known


def sync_folder(folder: Path) -> None:
    """Makes the names in a folder last through a loss of power."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
