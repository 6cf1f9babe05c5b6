"""The written time of each row, from one column or several."""

import polars as pl

from gramrise.connectors.layout import Clock
from gramrise.intake.files import TextTable


def time_text(table: TextTable, clock: Clock) -> pl.Series:
    """Text of date and time of day together, '' where the row has none; a carried day is filled in."""
    columns = [table.column(name) for name in clock.columns]
    if len(columns) == 1 and columns[0] is not None and _trim(table.cells[columns[0]]):
        return table.cells[columns[0]].alias("text")
    parts = [pl.col(column).fill_null("").str.strip_chars() for column in columns if column is not None]
    if clock.day_carried and len(parts) > 1:
        parts[0] = pl.when(parts[0] == "").then(None).otherwise(parts[0]).forward_fill().fill_null("")
    whole = parts[0]
    for part in parts[1:]:
        whole = pl.when((whole == "") | (part == "")).then(whole).otherwise(whole + " " + part)
    return table.cells.select(whole.alias("text")).to_series()


def goes_back(table: TextTable, clock: Clock, local: pl.Series) -> pl.Series:
    """Per row, whether its day was carried from a row above while its clock turns: it may be of the next day.

    local   the wall-clock time of each row as read with the carried day

    A night that begins at 22:30 goes on at 00:15 under the same written day. Rows run backwards only where the days
    that are written do.
    """
    first = table.column(clock.columns[0])
    none = pl.Series([False] * table.cells.height, dtype=pl.Boolean)
    if not clock.day_carried or len(clock.columns) < 2 or first is None:
        return none
    written = table.cells[first].fill_null("").str.strip_chars() != ""
    days = local.filter(written).dt.date().drop_nulls()
    falling = days.len() > 1 and days.is_sorted(descending=True) and days[0] != days[-1]
    step = local.diff().dt.total_seconds()
    back = step > 0 if falling else step < 0
    carried = ~written & local.is_not_null()
    # What follows within the same written day is of the later day, too.
    group = written.cast(pl.Int32).cum_sum()
    frame = pl.DataFrame({"group": group, "back": (carried & back).fill_null(value=False)})
    return frame.select(pl.col("back").cum_max().over("group")).to_series() & carried


def _trim(cells: pl.Series) -> bool:
    """Whether a column is of one length and its first cell needs no trimming: then no cell of that shape does."""
    lengths = cells.str.len_bytes()
    return (
        cells.null_count() == 0 and cells.len() > 0 and lengths.min() == lengths.max() and cells[0] == cells[0].strip()
    )
