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


def _trim(cells: pl.Series) -> bool:
    """Whether a column is of one length and its first cell needs no trimming: then no cell of that shape does."""
    lengths = cells.str.len_bytes()
    return (
        cells.null_count() == 0 and cells.len() > 0 and lengths.min() == lengths.max() and cells[0] == cells[0].strip()
    )
