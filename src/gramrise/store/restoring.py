"""A backup put in the place of the database, such that a kill at any moment leaves the old or the new one whole.

A sound database is overwritten by SQLite itself, in one transaction: other programs keep their place in the queue, and
what they write lands in the database that then stands, never in one that was renamed away under them. Only a damaged
database is replaced by renaming; a file beside it (`COMING`) says from the first rename to the last that this is so.
"""

import os
import shutil
import sqlite3
import time
import uuid
from collections.abc import Collection
from contextlib import closing, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sqlalchemy import Table

from gramrise.config.settings import database_url
from gramrise.domain.printable import printable
from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.store import database
from gramrise.store.backup import UNSEALED, copied_whole, copy_rows_of, sync_folder
from gramrise.store.database import DATABASE_FILE, make_home, refuse_damaged
from gramrise.store.keeping import is_sealed, refuse_changed, server_of_file, unseal
from gramrise.store.outbox import SENDING, WAITING
from gramrise.store.schema import METADATA, devices, outbox
from gramrise.store.schema_check import refuse_other_tables
from gramrise.store.troubles import explained

if TYPE_CHECKING:
    from cryptography.fernet import Fernet

COMING: Final = f"{DATABASE_FILE}.coming"
COPIED: Final = f"{DATABASE_FILE}.restoring"
SIDE_FILES: Final = ("-wal", "-shm", "-journal")
TRAIL: Final = tuple(column.name for column in METADATA.tables["audit"].columns)
RESTORED: Final = "restored_mark"
_LEDGER: Final = "SELECT person_id, content_hash, file, added + corrected FROM imports ORDER BY import_id"
ANOTHER: Final = "name another file written by `gramrise backup`"


def restore_backup(home: Path, source: Path, key: "Fernet | None" = None) -> Path | None:
    """Puts a backup in the place of the database. Returns where what was there was kept; None when nothing was.

    key    what a sealed backup was sealed with
    raises WrongUse when the backup is not there, or is sealed and no key is given; CouldNotRun when it is damaged
    (nothing is changed then), or when another program does not let go of the database
    """
    if not source.is_file():
        raise WrongUse(f"there is no file {source}", "name a file written by `gramrise backup`")
    refuse_changed(source)
    if not is_sealed(source):
        return _restore(home, source)
    if key is None:
        raise WrongUse(f"{source.name} is sealed; nothing was changed", "name the file of its key with --key")
    make_home(home)
    plain = home / UNSEALED
    try:
        unseal(source, plain, key)
        return _restore(home, plain)
    finally:
        plain.unlink(missing_ok=True)


def _restore(home: Path, source: Path) -> Path | None:
    _refuse_other_files(source)
    make_home(home)
    url = database_url(home)
    standing, copied = home / DATABASE_FILE, home / COPIED
    copied_whole(source, copied)
    try:
        _refuse_unfit(copied)
        if url is not None:
            return _into_server(home, url, copied)
        _carry_over(standing, copied)
        _sign(copied)
        kept = _free_name(standing) if standing.exists() and standing.stat().st_size else None
        if kept is not None and _is_sound(standing):
            overwrite(copied, standing, kept)
        else:
            _replace(copied, standing, kept)
    finally:
        copied.unlink(missing_ok=True)
    (home / COMING).unlink(missing_ok=True)  # of a restore that was cut off before this one
    return kept


def _into_server(home: Path, url: str, copied: Path) -> Path | None:
    """Puts the rows of a copy in the place of a server's; those are first kept in a file of the home."""
    engine = database.engine_for(url)
    try:
        with explained(Path(engine.url.database or DATABASE_FILE)):
            with engine.connect() as connection:
                empty = database.step_of(connection) is None
            database.to_newest(engine)
            kept = None if empty else _free_name(home / DATABASE_FILE)
            if kept is not None:
                copy_rows_of(home, kept)
                _carry_over(kept, copied)
            server_of_file(copied, engine)
    finally:
        engine.dispose()
        for suffix in SIDE_FILES:
            copied.with_name(copied.name + suffix).unlink(missing_ok=True)
    return kept


def _refuse_unfit(copied: Path) -> None:
    """Brings the copy to the newest step before anything is replaced: a newer one would stop the home for good.

    raises  CouldNotRun (code schema_newer, schema_damaged); nothing was changed
    """
    engine = database.engine_for(f"sqlite:///{copied}")
    try:
        with explained(copied):
            database.to_newest(engine)
        refuse_other_tables(copied)
    except CouldNotRun as trouble:
        what = f"that backup cannot be used: {trouble.what}; nothing was changed"
        raise CouldNotRun(what, ANOTHER, trouble.code) from trouble
    finally:
        engine.dispose()
    with closing(sqlite3.connect(copied)) as whole:  # one file again, which can be renamed
        whole.execute("PRAGMA journal_mode=DELETE")


def refuse_half_restored(home: Path) -> None:
    """Raises CouldNotRun (code restore_cut_off) where a restore did not come to its end: the old is no longer whole."""
    if (home / COMING).exists():
        raise CouldNotRun(
            "a restore was cut off, so the database is not whole",
            "run `gramrise restore` again with the same backup; what was here before lies in the files "
            f"{DATABASE_FILE}.before-restore-...",
            "restore_cut_off",
        )


def _refuse_other_files(source: Path) -> None:
    try:
        refuse_damaged(source)
    except CouldNotRun as damaged:
        if damaged.code != "database_damaged":
            raise
        what = f"{source} is no database, or a damaged one; nothing was changed"
        raise CouldNotRun(what, ANOTHER, damaged.code) from damaged
    if source.stat().st_size == 0 or not _is_ours(source):
        raise WrongUse(f"{source} is no gramrise backup; nothing was changed", ANOTHER)


def _is_ours(source: Path) -> bool:
    with closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as probe:
        named = probe.execute("SELECT count(*) FROM sqlite_master WHERE name IN ('persons', 'alembic_version')")
        return int(named.fetchone()[0]) == 2


def _is_sound(standing: Path) -> bool:
    try:
        refuse_damaged(standing, whole=True)
    except CouldNotRun as trouble:
        if trouble.code != "database_damaged":
            raise
        return False
    return not standing.with_name(COMING).exists()


def _carry_over(standing: Path, copied: Path) -> None:
    """What a restore must not take back: the audit trail, and the mark of a home whose backup is from before marks.

    With the mark its letters keep their message ids.
    """
    with suppress(sqlite3.Error), closing(sqlite3.connect(f"file:{standing}?mode=ro", uri=True)) as old:
        mark = old.execute("SELECT value FROM service WHERE key = 'home_mark'").fetchone()
        with closing(sqlite3.connect(copied)) as new, new:
            new.execute("INSERT OR IGNORE INTO service (key, value) VALUES ('home_mark', ?)", mark)
            trail = old.execute(f"SELECT {', '.join(TRAIL)} FROM audit").fetchall()
            new.executemany(
                f"INSERT OR IGNORE INTO audit ({', '.join(TRAIL)}) VALUES ({', '.join('?' * len(TRAIL))})", trail
            )
    _carry_devices_over(standing, copied)
    _carry_letters_over(standing, copied)


def _carry_devices_over(standing: Path, copied: Path) -> None:
    """Which phones are let in is as it was last, never as it was when the backup was made: one may be lost since."""
    _carry_rows_over(standing, copied, devices, "true", (), first="DELETE FROM devices")


def _carry_letters_over(standing: Path, copied: Path) -> None:
    """Letters that went out since the backup: they are on no way again. Tables of before letters have none."""
    _carry_rows_over(standing, copied, outbox, "state NOT IN (?, ?)", (WAITING, SENDING))


def _carry_rows_over(
    standing: Path, copied: Path, table: Table, which: str, told: tuple[str, ...], *, first: str = ""
) -> None:
    """Rows of a table that stands, of the persons whom the copy knows, over those of the copy.

    which  the condition, with `told` in the places of its marks
    first  a statement that the copy runs before they land
    """
    names = [column.name for column in table.columns]
    listed, places = ", ".join(names), ", ".join("?" * len(names))
    with suppress(sqlite3.Error), closing(sqlite3.connect(f"file:{standing}?mode=ro", uri=True)) as old:
        rows = old.execute(f"SELECT {listed} FROM {table.name} WHERE {which}", told).fetchall()
        with closing(sqlite3.connect(copied)) as new, new:
            known = {row[0] for row in new.execute("SELECT person_id FROM persons")}
            if first:
                new.execute(first)
            theirs = [row for row in rows if row[names.index("person_id")] in known]
            new.executemany(f"INSERT OR REPLACE INTO {table.name} ({listed}) VALUES ({places})", theirs)


def _sign(copied: Path) -> None:
    """Another mark in each restored database: by it `check` sees, after a kill, which of the two is standing."""
    with suppress(sqlite3.Error), closing(sqlite3.connect(copied)) as new, new:
        new.execute("INSERT OR REPLACE INTO service (key, value) VALUES (?, ?)", (RESTORED, uuid.uuid4().hex))


def restore_left_over(home: Path) -> str:
    """A sentence on a restore that was killed, and which database is standing since; '' where none was."""
    copied, standing = home / COPIED, home / DATABASE_FILE
    if not copied.exists():
        return ""
    mend = f"run `gramrise restore` again to have the backup, or remove {COPIED} to leave what is here"
    mark = _mark_of(copied)
    if mark is not None and mark == _mark_of(standing):
        done = "the database here is the restored one, whole"
        return f"A restore was cut off just before its end: {done}. To mend: remove {COPIED}."
    return f"A restore was cut off: the database here is still the one from before, whole. To mend: {mend}."


def _mark_of(path: Path) -> str | None:
    try:
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as probe:
            row = probe.execute("SELECT value FROM service WHERE key = ?", (RESTORED,)).fetchone()
    except sqlite3.Error:
        return None
    return None if row is None else str(row[0])


def imports_lost(known: Collection[tuple[str, str]], kept: Path) -> dict[tuple[str, str], tuple[str, int]]:
    """What the replaced database had taken in and the restored one has not, oldest first.

    Its file ('give' for what was typed) with its rows, by person and content hash.

    known  person and content hash of what the restored one has taken in
    Read by the same library as everything else, from the copy that nobody writes to any more.
    """
    with explained(kept), closing(sqlite3.connect(f"file:{kept}?mode=ro", uri=True)) as old:
        had = old.execute(_LEDGER).fetchall()
    return {(who, digest): (printable(file), rows) for who, digest, file, rows in had if (who, digest) not in known}


def overwrite(copied: Path, standing: Path, kept: Path) -> None:
    """One transaction of SQLite's over the standing database, which is first copied while nobody else can write."""
    begun = time.monotonic()
    held = False

    def after_step(status: int, _remaining: int, _total: int) -> None:
        nonlocal held
        if status in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}:
            if time.monotonic() - begun > database.WAIT_FOR_LOCK_SECONDS:
                raise sqlite3.OperationalError("database is locked")
        elif not held:  # from the first page on nobody else can write: the copy is what is overwritten
            held = True
            copied_whole(standing, kept)

    done = False
    try:
        with (
            explained(standing),
            closing(sqlite3.connect(copied)) as source,
            closing(sqlite3.connect(standing)) as target,
        ):
            target.execute(f"PRAGMA busy_timeout={database.WAIT_FOR_LOCK_SECONDS * 1000:.0f}")
            target.execute("PRAGMA journal_mode=WAL")
            target.execute("PRAGMA synchronous=FULL")
            source.backup(target, pages=1, progress=after_step, sleep=0.05)
            done = True
            target.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    except CouldNotRun:
        if not done:  # its one transaction was undone: what stands is what was copied
            kept.unlink(missing_ok=True)
        raise


def _replace(copied: Path, standing: Path, kept: Path | None) -> None:
    """Renames, where there is no sound database to overwrite. The side files go before the new one has its name."""
    coming = standing.with_name(COMING)
    os.replace(copied, coming)
    sync_folder(coming.parent)
    aside = kept or _free_name(standing)
    if kept is not None:
        try:
            os.link(standing, kept)
        except OSError:  # a file system without links
            shutil.copy2(standing, kept)
    for suffix in SIDE_FILES:
        side = standing.with_name(DATABASE_FILE + suffix)
        if side.exists():
            os.replace(side, aside.with_name(aside.name + suffix))
    sync_folder(coming.parent)
    os.replace(coming, standing)
    sync_folder(standing.parent)


def _free_name(standing: Path) -> Path:
    """The first name for what is replaced that neither a file nor its side files have."""
    number = 1
    while any(any(standing.parent.glob(f"{DATABASE_FILE}.before-restore-{number}{end}")) for end in ("", "-*")):
        number += 1
    return standing.with_name(f"{DATABASE_FILE}.before-restore-{number}")
