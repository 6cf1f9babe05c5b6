"""Insulin, food, and whatever else was logged around the glucose."""

from typing import TYPE_CHECKING

import polars as pl

from gramrise.connectors import layout as shape
from gramrise.domain.frames import EVENTS
from gramrise.intake.cells.time_columns import read_times
from gramrise.intake.files.text_table import ROW

if TYPE_CHECKING:
    from gramrise.intake.rows.table_reader import TableReader


def take_amounts(
    reader: "TableReader",
    part: shape.Insulin | shape.Food,
    rows: pl.DataFrame,
    name: str,
    kind: str,
    most: float,
    scale: float,
) -> None:
    """Insulin units or grams of carbohydrate; a zero says nothing was given and is passed over."""
    column = reader.column(name)
    unit = "insulin" if isinstance(part, shape.Insulin) else "gram"
    rows = reader.with_number(rows, name, unit).with_columns(amount=pl.col("number") * scale)
    amount = pl.col("amount")
    code = (
        pl.when((pl.col("value") == "") | (amount == 0)).then(pl.lit("blank"))
        .when(amount.is_null()).then(pl.lit("not_a_number"))
        .when(~amount.is_between(0, most)).then(pl.lit("amount_implausible"))
        .otherwise(pl.lit(""))
    )  # fmt: skip
    good = reader.judged(rows.with_columns(code=code), reader.table.label(column), unsure_is_bad=False)
    if isinstance(part, shape.Food) and not part.amount_known:
        good = good.with_columns(amount=pl.lit(None, dtype=pl.Float64))
    _add_events(reader, good, kind, part.note)


def take_happenings(
    reader: "TableReader", rows: pl.DataFrame, kind: str, text: str, until: str = "", *, chosen: bool = False
) -> None:
    """Adds what was told without an amount: rows with a text, or every row where `when` has chosen them."""
    blank = pl.when(pl.col("value") == "").then(pl.lit("blank")).otherwise(pl.lit(""))
    rows = rows.with_columns(value=reader.text(text, may_lack=True), amount=pl.lit(None, dtype=pl.Float64))
    rows = rows.with_columns(code=pl.lit("") if chosen else blank)
    good = reader.judged(rows, text, unsure_is_bad=False)
    if until and reader.table.column(until) is not None:
        good = good.with_columns(until_utc=_ends(reader, until, good))
    _add_events(reader, good, kind, text)


def _ends(reader: "TableReader", name: str, good: pl.DataFrame) -> pl.Series:
    clock = reader.layout.clock
    assert clock is not None  # as above
    at = clock.model_copy(update={"columns": (name,), "offset_column": "", "day_carried": False})
    cells = good.select(ROW, *(str(column) for column in range(reader.table.width)))
    ends = read_times(
        reader.table.with_cells(cells), at, reader.person, reader.settings, reader.words, reader.context.now_utc
    ).frame
    return ends.select(pl.when(pl.col("no_time") == "").then(pl.col("at_utc"))).to_series().alias("until_utc")


def _add_events(reader: "TableReader", good: pl.DataFrame, kind: str, text_column: str) -> None:
    if "until_utc" not in good.columns:
        good = good.with_columns(until_utc=pl.lit(None, dtype=EVENTS.schema["until_utc"]))
    events = good.with_columns(
        person_id=pl.lit(reader.person.person_id), kind=pl.lit(kind), text=reader.text(text_column, may_lack=True)
    ).select(EVENTS.schema.keys())
    fresh = events.unique(maintain_order=True)
    reader.taken.rows_repeated += events.height - fresh.height
    reader.taken.events = pl.concat([reader.taken.events, fresh])
