"""The open database: one view to read from, one transaction to write in."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from sqlalchemy import Connection, Engine

from gramrise.store import database


@dataclass(frozen=True, slots=True)
class Session:
    """The engine of an open database. The store, its runs and its outbox share one."""

    engine: Engine

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent view of the database; other programs may write meanwhile."""
        reads_only = self.engine.execution_options(only_reads=True)
        with database.explained(database.DATABASE_FILE), reads_only.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: all of it happens, or nothing. Other writers wait."""
        with database.explained(database.DATABASE_FILE), self.engine.begin() as connection:
            yield connection

    @contextmanager
    def trying(self, dry_run: bool) -> Iterator[Connection]:
        """As `writing`; with `dry_run` everything is undone at the end."""
        with (
            database.explained(database.DATABASE_FILE),
            self.engine.connect() as connection,
            connection.begin() as transaction,
        ):
            yield connection
            if dry_run:
                transaction.rollback()
