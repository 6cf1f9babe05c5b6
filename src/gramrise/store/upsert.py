"""Inserts that meet a row with the same key: SQLite and PostgreSQL word them alike, each in a dialect of its own."""

from typing import TYPE_CHECKING

from sqlalchemy import Connection, Table

if TYPE_CHECKING:
    from sqlalchemy.dialects import postgresql, sqlite


def insert_into(connection: Connection, table: Table) -> "sqlite.Insert | postgresql.Insert":
    """An insert that knows `on_conflict_do_nothing` and `on_conflict_do_update`. Only the dialect used is loaded."""
    if connection.dialect.name == "sqlite":
        from sqlalchemy.dialects.sqlite import insert as insert_sqlite

        return insert_sqlite(table)
    from sqlalchemy.dialects.postgresql import insert as insert_postgresql

    return insert_postgresql(table)
