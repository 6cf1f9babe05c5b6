"""A copy of the database while it may be in use, proved whole before it gets its name; and back again."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.store.database import DATABASE_FILE, make_file, make_home, refuse_damaged

# Pages copied at once: the whole file in one step, so that the copy is one instant however often others write.
ALL_PAGES = -1


def write_backup(home: Path, to: Path) -> None:
    """Writes a copy of the home's database to `to`, readable by its owner only.

    raises WrongUse when `to` is there already or there is no database; CouldNotRun when the database is damaged:
    a damaged database is never copied over anything
    """
    source = home / DATABASE_FILE
    if not source.exists():
        raise WrongUse(f"there is no database in {home}", "name the home folder with --home")
    if to.exists():
        raise WrongUse(f"{to} is there already", "name a file that is not; old backups are not overwritten")
    if not to.parent.is_dir():
        raise WrongUse(f"there is no folder {to.parent} to write the copy into", "make it, or name a file elsewhere")
    if not os.access(to.parent, os.W_OK | os.X_OK):
        raise WrongUse(f"nothing may be written into the folder {to.parent}", "name a file in one that you may write")
    refuse_damaged(source)
    _copied_whole(source, to)


def before_migration(home: Path, step: str) -> Path:
    """Keeps the database as it stands before its tables change, in `backups`; one kept already stays."""
    folder = home / "backups"
    folder.mkdir(mode=0o700, exist_ok=True)
    kept = folder / f"before-step-after-{step}.db"
    if not kept.exists():
        _copied_whole(home / DATABASE_FILE, kept)
    return kept


def restore_backup(home: Path, source: Path) -> Path | None:
    """Puts a backup in the place of the database. Returns where what was there was kept; None when nothing was.

    raises WrongUse when the backup is not there; CouldNotRun when it is damaged (nothing is changed then)
    """
    if not source.is_file():
        raise WrongUse(f"there is no file {source}", "name a file written by `gramrise backup`")
    another = "name another file written by `gramrise backup`"
    try:
        refuse_damaged(source)
    except CouldNotRun as damaged:
        what = f"{source} is no database, or a damaged one; nothing was changed"
        raise CouldNotRun(what, another, damaged.code) from damaged
    if source.stat().st_size == 0 or not _is_ours(source):
        raise WrongUse(f"{source} is no gramrise backup; nothing was changed", another)
    make_home(home)
    standing = home / DATABASE_FILE
    coming = home / f"{DATABASE_FILE}.coming"
    coming.unlink(missing_ok=True)
    _copied_whole(source, coming)
    kept = _set_aside(standing) if standing.exists() else None
    os.replace(coming, standing)
    return kept


def _copied_whole(source: Path, to: Path) -> None:
    """Copies under another name, proves the copy, then gives it its name: a half copy is never taken for one."""
    growing = to.with_name(to.name + ".growing")
    growing.unlink(missing_ok=True)
    make_file(growing)
    try:
        with (
            closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as here,
            closing(sqlite3.connect(growing)) as there,
        ):
            here.backup(there, pages=ALL_PAGES)
            there.execute("PRAGMA journal_mode=DELETE")
            verdict = there.execute("PRAGMA integrity_check(1)").fetchone()[0]
    except (sqlite3.Error, OSError) as problem:
        growing.unlink(missing_ok=True)
        raise CouldNotRun(
            f"the copy could not be written: {problem}", "make room, or choose another place"
        ) from problem
    if verdict != "ok":
        growing.unlink(missing_ok=True)
        raise CouldNotRun(
            f"the database {source.name} is damaged ({verdict}); no copy was kept",
            "restore the latest backup with `gramrise restore`",
            "database_damaged",
        )
    os.replace(growing, to)


def _is_ours(source: Path) -> bool:
    with closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as probe:
        named = probe.execute("SELECT count(*) FROM sqlite_master WHERE name IN ('persons', 'alembic_version')")
        return int(named.fetchone()[0]) == 2


def _set_aside(standing: Path) -> Path:
    """Gives the database that is replaced, with its side files, the first free name beside it."""
    number = 1
    while (kept := standing.with_name(f"{DATABASE_FILE}.before-restore-{number}")).exists():
        number += 1
    for suffix in ("-wal", "-shm", ""):  # the main file last: until then the old database still opens
        side = standing.with_name(DATABASE_FILE + suffix)
        if side.exists():
            os.replace(side, kept.with_name(kept.name + suffix))
    return kept
