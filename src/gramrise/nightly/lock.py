"""One pass at a time in a home and in a database; a lock falls with the process that held it.

The home's lock is the operating system's. Where a server keeps the rows, passes of other machines are kept out by a
lock of that server's.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gramrise.config.settings import database_url
from gramrise.domain.problems import CouldNotRun
from gramrise.store import Hold, file_refused, only_one_in_database

FILE = "nightly.lock"


@contextmanager
def only_one(home: Path) -> Iterator[Hold]:
    """Holds the locks of a home and its database. Raises CouldNotRun, at once, when another process holds one.

    The file stays; it is the hold on it that counts, and a killed process leaves none.
    """
    handle = _opened(home / FILE)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as held:
            raise CouldNotRun(
                "another nightly pass or restore is at work in this home",
                "wait for it to end, then run this again; nothing was done",
                "already_running",
            ) from held
        with only_one_in_database(database_url(home)) as hold:
            yield hold
    finally:
        os.close(handle)


def _opened(file: Path) -> int:
    try:
        return os.open(file, os.O_CREAT | os.O_RDWR | os.O_CLOEXEC | os.O_NOFOLLOW | os.O_NONBLOCK, 0o600)
    except OSError as problem:
        raise file_refused(problem, file, "take away what stands there; the program makes the file anew") from problem
