"""Frames of inputs as rows and back: one description a table, the same for SQLite and PostgreSQL.

A stored frame has the table's own types: instants Int64 (microseconds), dates and code lists text.
"""

from dataclasses import dataclass
from typing import Any, Final

import polars as pl
from sqlalchemy import Connection, Select, Table

from gramrise.domain import frames
from gramrise.domain.frames import FrameContract
from gramrise.domain.units import MG_DL_PER_MMOL_L
from gramrise.store import schema
from gramrise.store.instants import MICROSECONDS_IN_A_MINUTE
from gramrise.store.postgres.bulk import BULK_FROM_ROWS, upsert_rows
from gramrise.store.upsert import insert_into

# Rows of a write handed to the driver at once: bounds memory, costs no speed (measured).
ROWS_AT_ONCE: Final = 50_000
# The same value exported once in mmol/L with one decimal and once in whole mg/dL may differ by both roundings.
ROUNDING_MG_DL: Final = 0.05 * MG_DL_PER_MMOL_L + 0.5


@dataclass(frozen=True, slots=True)
class InputTable:
    """How one kind of input is stored.

    identity  columns that name a row; `at` the one that orders it in time
    stated    columns the log states: another value in one of them is a correction
    The remaining columns are derived or descriptive; a later import refreshes them silently.
    """

    name: str
    table: Table
    contract: FrameContract
    at: str
    identity: tuple[str, ...]
    stated: tuple[str, ...]

    @property
    def columns(self) -> tuple[str, ...]:
        """The stored columns, import_id last."""
        return tuple(column.name for column in self.table.columns)

    @property
    def schema(self) -> dict[str, pl.DataType]:
        """Types of a stored frame."""
        return {column.name: _stored_type(self, column.name) for column in self.table.columns}


def _stored_type(kind: InputTable, column: str) -> pl.DataType:
    if column in {"minute"}:
        return pl.Int64()
    if column in {"import_id", "ordinal"}:
        return pl.Int32()
    dtype = kind.contract.schema[column]
    if isinstance(dtype, pl.Datetime):
        return pl.Int64()
    return pl.String() if isinstance(dtype, pl.Date | pl.List) else dtype


READINGS: Final = InputTable(
    "readings", schema.readings, frames.READINGS, "at_utc", ("at_utc",), ("glucose_mg_dl", "range")
)
FINGERS: Final = InputTable(
    "fingers", schema.fingers, frames.FINGERS, "at_utc", ("at_utc",), ("glucose_mg_dl", "range")
)
DOSES: Final = InputTable(
    "doses",
    schema.doses,
    frames.DOSES,
    "minute",
    ("minute", "source", "ordinal"),
    ("taken_at_utc", "amount", "amount_unit", "remarks"),
)
EVENTS: Final = InputTable(
    "events",
    schema.events,
    frames.EVENTS,
    "at_utc",
    ("at_utc", "kind", "ordinal"),
    ("until_utc", "amount", "text"),
)
WEIGHTS: Final = InputTable("weights", schema.weights, frames.WEIGHTS, "on", ("on",), ("kg",))
INPUT_TABLES: Final = (READINGS, FINGERS, DOSES, EVENTS, WEIGHTS)


def as_stored(kind: InputTable, frame: pl.DataFrame, import_id: int | None) -> pl.DataFrame:
    """A frame of the contract as rows of the table, in the frame's order."""
    frame = kind.contract.check(frame)
    made: list[pl.Expr] = [pl.lit(import_id, dtype=pl.Int32).alias("import_id")]
    if kind is DOSES:
        made.append((pl.col("taken_at_utc").cast(pl.Int64) // MICROSECONDS_IN_A_MINUTE).alias("minute"))
    if kind is EVENTS:
        frame = frame.unique(maintain_order=True)  # the same event stated twice is one
        made.append(pl.int_range(1, pl.len() + 1, dtype=pl.Int32).over("person_id", "at_utc", "kind").alias("ordinal"))
    if "range" in frame.columns and kind is READINGS:
        made.append(pl.col("offset_minutes").cast(pl.Int32))
    frame = frame.with_columns(made)
    return frame.select(_out(kind, name).alias(name) for name in kind.columns)


def _out(kind: InputTable, name: str) -> pl.Expr:
    dtype = kind.contract.schema.get(name)
    if isinstance(dtype, pl.List):
        return pl.col(name).list.join(" ")
    if isinstance(dtype, pl.Date):
        return pl.col(name).dt.to_string("%Y-%m-%d")
    return pl.col(name).cast(_stored_type(kind, name))


def as_contract(kind: InputTable, stored: pl.DataFrame) -> pl.DataFrame:
    """Stored rows as the frame of the contract, in its order."""
    return kind.contract.check(stored.select(_in(name, dtype) for name, dtype in kind.contract.schema.items()))


def _in(name: str, dtype: pl.DataType) -> pl.Expr:
    column = pl.col(name)
    if isinstance(dtype, pl.List):
        none = pl.lit([], dtype=pl.List(pl.String))
        return pl.when(column == "").then(none).otherwise(column.str.split(" ")).alias(name)
    if isinstance(dtype, pl.Date):
        return column.str.to_date("%Y-%m-%d")
    return column.cast(dtype)


def fetch(connection: Connection, chosen: Select[Any], types: dict[str, pl.DataType]) -> pl.DataFrame:
    """The rows of a query as a frame of these types, columns in the query's order."""
    result = connection.execute(chosen)
    assert result.cursor is not None  # a select always has one
    rows = result.cursor.fetchall()
    result.close()
    if not rows:
        return pl.DataFrame(schema=types)
    columns = zip(*rows, strict=True)
    made = [
        pl.Series(name, values, dtype=_wire(types[name], values[0])).cast(types[name])
        for name, values in zip(types, columns, strict=True)
    ]
    return pl.DataFrame(made)


def _wire(dtype: pl.DataType, first: Any) -> pl.DataType:
    """What the driver hands over: SQLite has no booleans of its own, PostgreSQL has."""
    if isinstance(dtype, pl.Boolean):
        return dtype if isinstance(first, bool) else pl.Int64()
    return pl.Int64() if isinstance(dtype, pl.Int32) else dtype


def write(connection: Connection, table: Table, key: tuple[str, ...], rows: pl.DataFrame) -> None:
    """Inserts rows, or replaces the rest of the row where the key (person_id and `key`) is there already."""
    if rows.height == 0:
        return
    names = rows.columns
    if connection.dialect.name == "sqlite":
        upsert = insert_into(connection, table)
        changed = {name: upsert.excluded[name] for name in names if name not in ("person_id", *key)}
        statement = upsert.values(dict.fromkeys(names))
        statement = statement.on_conflict_do_update(index_elements=("person_id", *key), set_=changed)
        compiled = statement.compile(dialect=connection.dialect)
        assert compiled.positiontup == names  # the driver takes plain tuples: four times the speed of named values
        for part in rows.iter_slices(ROWS_AT_ONCE):
            connection.exec_driver_sql(str(compiled), part.rows())
        return
    if rows.height >= BULK_FROM_ROWS:
        upsert_rows(connection, table, ("person_id", *key), names, rows.iter_rows())
        return
    upsert = insert_into(connection, table)
    changed = {name: upsert.excluded[name] for name in names if name not in ("person_id", *key)}
    statement = upsert.on_conflict_do_update(index_elements=("person_id", *key), set_=changed)
    connection.execute(statement, rows.to_dicts())
