"""One pass at a time in a home: a lock of the operating system's, which falls with the process that held it."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gramrise.domain.problems import CouldNotRun

FILE = "nightly.lock"


@contextmanager
def only_one(home: Path) -> Iterator[None]:
    """Holds the home's lock. Raises CouldNotRun, at once, when another process holds it.

    The file stays; it is the hold on it that counts, and a killed process leaves none.
    """
    handle = os.open(home / FILE, os.O_CREAT | os.O_RDWR | os.O_CLOEXEC, 0o600)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as held:
            raise CouldNotRun(
                "another nightly pass is at work in this home",
                "wait for it to end, then run this again; nothing was done",
                "already_running",
            ) from held
        yield
    finally:
        os.close(handle)
