"""The open database: one view to read from, one transaction to write in."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, Engine

from gramrise.store import database
from gramrise.store.postgres import ONE_VIEW, queue
from gramrise.store.troubles import explained


@dataclass(frozen=True, slots=True)
class Session:
    """The engine of an open database. The store, its runs and its outbox share one."""

    engine: Engine

    @property
    def path(self) -> Path:
        """The database file, or the name of the server's database: for the words of troubles."""
        return Path(self.engine.url.database or database.DATABASE_FILE)

    @property
    def on_server(self) -> bool:
        """Whether the rows are kept by PostgreSQL, not in a file of SQLite's."""
        return self.engine.dialect.name == "postgresql"

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent view of the database; other programs may write meanwhile."""
        reads_only = self.engine.execution_options(**(ONE_VIEW if self.on_server else {"only_reads": True}))
        with explained(self.path), reads_only.begin() as connection:
            yield connection

    @contextmanager
    def writing(self, whose: str | None = None) -> Iterator[Connection]:
        """One transaction: all of it happens, or nothing. Other writers wait.

        whose   the only person whose rows are read and written: on PostgreSQL only writers of theirs wait then
        """
        with explained(self.path), self.engine.begin() as connection:
            queue(connection, whose)
            yield connection

    @contextmanager
    def trying(self, dry_run: bool, whose: str | None = None) -> Iterator[Connection]:
        """As `writing`; with `dry_run` everything is undone at the end."""
        with (
            explained(self.path),
            self.engine.connect() as connection,
            connection.begin() as transaction,
        ):
            queue(connection, whose)
            yield connection
            if dry_run:
                transaction.rollback()
