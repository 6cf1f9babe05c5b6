"""Rows of batches and counts as they change, each with what stood there before, so that a change can be taken back."""

from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Table, delete, insert, select

from gramrise.store.persons import mark_changed
from gramrise.store.schema import container_counts, mixed_batches, stock_counts

TABLES: Final = {table.name: table for table in (mixed_batches, container_counts, stock_counts)}
RowChange = dict[str, Any]  # table, before, after; a row as column: value, None where there is none


def put(connection: Connection, table: Table, row: dict[str, Any]) -> RowChange | None:
    """Writes a row in the place of one of the same key. None where it stood there already."""
    before = _standing(connection, table, row)
    if before == row:
        return None
    connection.execute(delete(table).where(*_key(table, row)))
    connection.execute(insert(table).values(**row))
    return {"table": table.name, "before": before, "after": row}


def put_back(connection: Connection, person_id: str, made: Sequence[RowChange]) -> bool:
    """Undoes changes of rows, the last first. False, and nothing done, where one of them was changed again since."""
    if any(_standing(connection, TABLES[each["table"]], each["after"]) != each["after"] for each in made):
        return False
    for each in reversed(made):
        table = TABLES[each["table"]]
        connection.execute(delete(table).where(*_key(table, each["after"])))
        if each["before"] is not None:
            connection.execute(insert(table).values(**each["before"]))
        if table is mixed_batches:  # what was taken from it has other grams now
            rows = [row for row in (each["before"], each["after"]) if row is not None]
            mark_changed(connection, person_id, min(row["mixed_at"] for row in rows))
    return True


def _standing(connection: Connection, table: Table, row: dict[str, Any]) -> dict[str, Any] | None:
    found = connection.execute(select(table).where(*_key(table, row))).mappings().first()
    return None if found is None else dict(found)


def _key(table: Table, row: dict[str, Any]) -> list[ColumnElement[bool]]:
    return [column == row[column.name] for column in table.primary_key.columns]
