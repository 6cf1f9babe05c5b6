"""Who may write when, on PostgreSQL: advisory locks, which the server lets go when their session ends, however it ends.

SQLite lets one writer in at a time, and the store is written for that: it reads, decides and writes in one transaction.
On a server a writer holds two locks until its transaction ends: its person's alone, and, shared, the one of the whole
database; a writer who names no person holds the latter alone. So the writers of one person queue up as on SQLite, those
of different persons work side by side, and nobody works beside one who may touch everybody.
"""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, Final

from sqlalchemy import Connection, NullPool, create_engine, exc, text

from gramrise.domain.problems import CouldNotRun
from gramrise.store.postgres.trouble_words import trouble_of_server

# Our numbers, in a database of our own: the writers' lock and the pass's. Nobody else takes advisory locks there.
EVERYBODY: Final = 7_301
ONE_PASS: Final = 7_302
# The first of the pair of numbers under which a person is locked.
OF_A_PERSON: Final = 7_303
# Readers see one instant of the database, however long they read.
ONE_VIEW: Final[dict[str, Any]] = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}

_ALONE: Final = text("SELECT pg_advisory_xact_lock(:everybody)")
_ONE_PERSON: Final = text("SELECT pg_advisory_xact_lock_shared(:everybody), pg_advisory_xact_lock(:kind, :person)")


def queue(connection: Connection, whose: str | None) -> None:
    """Waits for the writers before; what is read after it is what they left. Nothing to do on SQLite.

    whose   the only person whose rows are read and written; None: anybody's
    """
    if connection.dialect.name != "postgresql":
        return
    if whose is None:
        connection.execute(_ALONE, {"everybody": EVERYBODY})
    else:
        connection.execute(_ONE_PERSON, {"everybody": EVERYBODY, "kind": OF_A_PERSON, "person": number_of(whose)})


def number_of(person_id: str) -> int:
    """A person's lock: 31 bits of a hash. Two who share one wait for each other now and then, and that is all."""
    return int.from_bytes(hashlib.blake2b(person_id.encode(), digest_size=4).digest(), "big") >> 1


class Hold:
    """The pass's lock, held by a session of its own."""

    def __init__(self, connection: Connection | None) -> None:
        self._connection = connection

    def still(self) -> None:
        """Raises CouldNotRun (code server_gone) where the session is gone, and the lock with it. Asks no file."""
        if self._connection is not None:
            with _told():
                self._connection.execute(text("SELECT 1"))


@contextmanager
def only_one_in_database(url: str | None) -> Iterator[Hold]:
    """Holds the one lock of passes, restores and the like in a server's database, from whichever machine they run.

    url     None: the rows are in a file of the home, and whoever asks holds a lock of the home
    raises  CouldNotRun, at once, where somebody holds it
    """
    if url is None:
        yield Hold(None)
        return
    with _told():
        engine = create_engine(url, poolclass=NullPool, isolation_level="AUTOCOMMIT", hide_parameters=True)
        connection = engine.connect()
    try:
        with _told():
            held = connection.execute(text("SELECT pg_try_advisory_lock(:one)"), {"one": ONE_PASS}).scalar_one()
        if not held:
            raise CouldNotRun(
                "another nightly pass or restore is at work on this database, perhaps on another machine",
                "wait for it to end, then run this again; nothing was done",
                "already_running",
            )
        yield Hold(connection)
    finally:
        with suppress(exc.DBAPIError):  # given back by word: a session that is closed holds its locks a moment longer
            connection.execute(text("SELECT pg_advisory_unlock_all()"))
        with suppress(exc.DBAPIError):
            connection.close()


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except exc.DBAPIError as problem:
        known = None if problem.orig is None else trouble_of_server(problem.orig)
        if known is None:
            raise
        raise known from problem
