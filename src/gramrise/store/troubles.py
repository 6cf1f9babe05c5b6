"""What the database driver or the operating system refused, in words: full, read-only, damaged, in use, not ours.

A full disk answers in many ways (SQLITE_FULL, but also IOERR while a side file grows, CANTOPEN while one is made). It
must never be called a damaged database: who then restores a backup loses what was saved since.
"""

import errno
import os
import resource
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from sqlalchemy import exc

from gramrise.domain.problems import CouldNotRun, refused_by_disk
from gramrise.store.postgres.trouble_words import is_of_server, trouble_of_server

_SIDES: Final = ("-journal", "-wal", "-shm")  # of SQLite's, beside its file
RESTORE: Final = "restore the latest backup with `gramrise restore`"
# Our choice: SQLite's side files grow by 32 kB at once; with less than this free, a refused write is a full disk.
ROOM_FOR_SIDE_FILES_BYTES: Final = 256 * 1024
DAMAGED: Final = ("SQLITE_CORRUPT", "SQLITE_NOTADB")
IN_USE: Final = ("SQLITE_BUSY", "SQLITE_LOCKED")
OTHER_TABLES: Final = (
    "no such table",
    "no such column",
    "has no column",
    "already exists",
    "duplicate column",
    "no such index",
)


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turns the troubles of a database file into words. Raises CouldNotRun."""
    try:
        yield
    except Exception as problem:
        told = problem.orig if isinstance(problem, exc.DBAPIError) and problem.orig else problem
        if not isinstance(told, sqlite3.Error) and not is_of_server(told):
            raise
        known = trouble_of(told, path)
        if known is None:
            raise
        raise known from problem


def trouble_of(problem: BaseException, path: Path) -> CouldNotRun | None:
    """What a driver's error means for whoever runs the command; None for a fault of ours."""
    if is_of_server(problem):
        return trouble_of_server(problem)
    name, said = str(getattr(problem, "sqlite_errorname", "")), str(problem).lower()
    if name.startswith(DAMAGED) or "malformed" in said or "not a database" in said:
        return _second_look(path) or damaged(path.name, str(problem))
    if name.startswith(IN_USE) or "locked" in said or "busy" in said:
        return CouldNotRun(
            f"the database {path.name} is in use by another program",
            "wait for the other command to end, then run this again; this step was undone whole",
            "database_locked",
        )
    if name == "SQLITE_FULL" or "is full" in said:
        return disk_full()
    if any(told in said for told in OTHER_TABLES):
        return other_tables(path.name, str(problem))
    return _of_the_disk(name, said, path)


def _of_the_disk(name: str, said: str, path: Path) -> CouldNotRun | None:
    """Reading, writing and opening that the operating system refused."""
    beside = next((one for end in _SIDES if _is_no_file(one := path.with_name(path.name + end))), None)
    if beside is not None:
        return CouldNotRun(
            f"something that is no file stands where the file {beside.name} has to be",
            "move it out of the home folder, then run this again; nothing that was saved is lost",
            "home_unreadable",
        )
    io, opening = "disk i/o" in said, "unable to open" in said
    read_only = "readonly" in said or "read-only" in said
    if not (io or opening or read_only):
        return None
    if not read_only and _is_full(path):
        return disk_full()
    if may_only_be_read(path.parent):
        return CouldNotRun(
            f"the disk that holds {path.name} may only be read",
            "mount it for writing, or name a home elsewhere with --home; nothing that was saved is lost",
            "disk_read_only",
        )
    if io:
        return _did_not_read(path.name, name or "input/output error")
    return CouldNotRun(
        f"the database {path.name} cannot be opened for writing",
        "let the user who runs gramrise own the home folder and its files",
        "home_unreadable",
    )


def _is_no_file(path: Path) -> bool:
    return os.path.lexists(path) and not path.is_file()


def _did_not_read(name: str, how: str) -> CouldNotRun:
    return CouldNotRun(
        f"the disk did not read or write {name} ({how})",
        "look at the disk, its cable and its free space, then run `gramrise check`; what was saved before stays",
        "disk_trouble",
    )


def _second_look(path: Path) -> CouldNotRun | None:
    """What else than damage made the driver call a file damaged: a disk that does not read answers so, too.

    Looked at by SQLite alone: a file of ours opened and closed beside it would drop the locks of this process.
    """
    if not path.is_file():
        return None
    try:
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as again:
            whole = again.execute("PRAGMA integrity_check(1)").fetchone() == ("ok",)
    except sqlite3.Error as problem:
        name = str(getattr(problem, "sqlite_errorname", ""))
        whole = name.startswith("SQLITE_IOERR") and name != "SQLITE_IOERR_CORRUPTFS"
    return _did_not_read(path.name, "read as damaged, found whole") if whole else None


def disk_full() -> CouldNotRun:
    known = refused_by_disk(OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)))
    assert known is not None
    return known


def damaged(name: str, verdict: str) -> CouldNotRun:
    return CouldNotRun(f"the database {name} is damaged ({verdict}); it was left as it is", RESTORE, "database_damaged")


def other_tables(name: str, verdict: str) -> CouldNotRun:
    """Its tables are not those of its step: changed by hand, or by a migration that did not come to its end."""
    return CouldNotRun(
        f"the tables of {name} are not those that this gramrise makes ({verdict}); they were left as they are",
        f"{RESTORE}, or a copy from the folder `backups` of the home",
        "schema_damaged",
    )


def file_refused(problem: OSError, path: Path, mend: str) -> CouldNotRun:
    """A file beside the database that could not be made or written."""
    known = refused_by_disk(problem)
    if known is not None:
        return known
    return CouldNotRun(f"{path.name} cannot be opened: {problem.strerror}", mend, "home_unreadable")


def _is_full(path: Path) -> bool:
    """Whether a disk, a quota or a limit of file sizes leaves no room beside a file."""
    try:
        found = os.statvfs(path.parent)
    except OSError:
        return False
    if found.f_bavail * found.f_frsize < ROOM_FOR_SIDE_FILES_BYTES or (found.f_files > 0 and found.f_ffree == 0):
        return True
    return _limit_reached(path) or _quota_reached(path.parent)


def _limit_reached(path: Path) -> bool:
    """Whether the file or one beside it is as large as this process may write any (`ulimit -f`)."""
    most, _ = resource.getrlimit(resource.RLIMIT_FSIZE)
    if most == resource.RLIM_INFINITY:
        return False
    beside = (path.with_name(path.name + suffix) for suffix in ("", "-wal", "-shm", "-journal"))
    return any(each.stat().st_size + ROOM_FOR_SIDE_FILES_BYTES > most for each in beside if each.exists())


def _quota_reached(folder: Path) -> bool:
    """Whether a small file finds no room, as under a quota, which the free space of a disk does not show."""
    try:
        with tempfile.TemporaryFile(dir=folder) as tried:
            tried.write(bytes(ROOM_FOR_SIDE_FILES_BYTES))
            tried.flush()
    except OSError as problem:
        refused = refused_by_disk(problem)
        return refused is not None and refused.code == "disk_full"
    return False


def may_only_be_read(folder: Path) -> bool:
    """Whether the disk of a folder is mounted for reading only."""
    try:
        return bool(os.statvfs(folder).f_flag & os.ST_RDONLY)
    except OSError:
        return False
