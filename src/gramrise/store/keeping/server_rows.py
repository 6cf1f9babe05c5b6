"""A server's rows as a file of SQLite's with the same tables, and back. Both are one instant, whole or not at all."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, Integer, Table, delete, func, select, text

from gramrise.store import database
from gramrise.store.postgres.bulk import copy_rows
from gramrise.store.postgres.locks import ONE_VIEW, queue
from gramrise.store.schema import APART, METADATA

# Rows fetched and written at once: bounds memory.
ROWS_AT_ONCE: Final = 10_000


def file_of_server(engine: Engine, to: Path) -> None:
    """Writes every row that a server's database holds into a new file of SQLite's, while others may write on."""
    database.make_file(to)
    into = database.engine_for(f"sqlite:///{to}")
    try:
        database.to_newest(into)
        with (
            engine.execution_options(**ONE_VIEW).begin() as server,
            closing(sqlite3.connect(to, isolation_level=None)) as file,
        ):
            file.execute("PRAGMA foreign_keys=OFF")
            file.execute("BEGIN IMMEDIATE")
            for table in METADATA.sorted_tables:
                _into_file(server, file, table)
            file.execute("COMMIT")
            file.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        into.dispose()


def _into_file(server: Connection, file: sqlite3.Connection, table: Table) -> None:
    if table.name not in APART:
        file.execute(f'DELETE FROM "{table.name}"')  # what the migrations put there themselves
    names = ", ".join(f'"{column.name}"' for column in table.columns)
    insert = f'INSERT INTO "{table.name}" ({names}) VALUES ({", ".join("?" * len(table.columns))})'
    chosen = select(table).order_by(*table.primary_key.columns)
    streamed = server.execution_options(stream_results=True, yield_per=ROWS_AT_ONCE).execute(chosen)
    for part in streamed.partitions():
        file.executemany(insert, [tuple(row) for row in part])
    if table.kwargs.get("sqlite_autoincrement"):
        counted = server.execute(text("SELECT last_value FROM pg_sequences WHERE sequencename = :n"), _counter(table))
        file.execute("DELETE FROM sqlite_sequence WHERE name = ?", (table.name,))
        file.execute("INSERT INTO sqlite_sequence VALUES (?, ?)", (table.name, counted.scalar_one_or_none() or 0))


def server_of_file(file: Path, engine: Engine) -> None:
    """Puts the rows of a file of the newest step in the place of a server's, in one transaction.

    The audit trail stands apart: what is written there is never taken out, by nobody.
    """
    from_file = database.engine_for(f"sqlite:///{file}")
    try:
        with from_file.execution_options(only_reads=True).begin() as source, engine.begin() as server:
            queue(server, None)
            tables = [table for table in METADATA.sorted_tables if table.name not in APART]
            for table in reversed(tables):
                server.execute(delete(table))
            for table in tables:
                copy_rows(server, table, [column.name for column in table.columns], _rows(source, table))
                _count_on(source, server, table)
            _add_trail(source, server)
    finally:
        from_file.dispose()


def _add_trail(source: Connection, server: Connection) -> None:
    """The audit trail of the file, where the server has none yet: a move to a server, or one that was lost."""
    trail = METADATA.tables["audit"]
    if server.execute(select(trail.c.audit_id).limit(1)).first() is None:
        told = [column for column in trail.columns if not column.primary_key]
        rows = source.execute(select(*told).order_by(trail.c.audit_id))
        copy_rows(server, trail, [column.name for column in told], rows)


def _rows(source: Connection, table: Table) -> Iterator[Any]:
    chosen = source.execution_options(yield_per=ROWS_AT_ONCE).execute(select(table))
    for part in chosen.partitions():
        yield from part


def _count_on(source: Connection, server: Connection, table: Table) -> None:
    """Lets the server go on counting where the file was: no number is given twice."""
    [*keys] = table.primary_key.columns
    if len(keys) != 1 or not isinstance(keys[0].type, Integer):
        return
    highest = source.execute(select(func.max(keys[0]))).scalar_one_or_none() or 0
    if table.kwargs.get("sqlite_autoincrement"):
        counted = source.execute(text("SELECT seq FROM sqlite_sequence WHERE name = :n"), {"n": table.name})
        highest = max(highest, counted.scalar_one_or_none() or 0)
    if highest:
        server.execute(text("SELECT setval(:n, greatest(:at, nextval(:n) - 1))"), {**_counter(table), "at": highest})


def _counter(table: Table) -> dict[str, str]:
    [key] = table.primary_key.columns
    return {"n": f"{table.name}_{key.name}_seq"}
