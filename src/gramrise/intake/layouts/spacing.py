"""How closely the rows of a table follow each other."""

import polars as pl

from gramrise.connectors.layout import Clock
from gramrise.intake.cells import DateStyle, read_written_time, time_text
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.layouts.column_profiles import ColumnProfile
from gramrise.intake.layouts.day_order import prove_order

_STEPS_LOOKED_AT = 3000  # times whose spacing is looked at


def usual_step(table: TextTable, clock: Clock, column: ColumnProfile, context: ReadContext) -> float | None:
    """Median minutes between neighbouring rows that have a value; None where times cannot be read yet."""
    cells = (
        table.cells.head(_STEPS_LOOKED_AT * 10)
        .filter(pl.col(str(column.at)).fill_null("") != "")
        .head(_STEPS_LOOKED_AT)
    )
    texts = time_text(table.with_cells(cells), clock)
    order = prove_order(texts, context.settings, context.words, context.now_utc)
    form = "dmy" if isinstance(order, OpenPoint) else order.form  # within a day every order gives the same steps
    if form.startswith("epoch"):
        numbers = texts.cast(pl.Float64, strict=False) / (60_000 if form == "epoch ms" else 60)
        steps = numbers.drop_nulls().diff().abs().drop_nulls()
    else:
        style = DateStyle(form, context.settings.latest_two_digit_year)
        read = [read_written_time(text, style, context.words) for text in texts.to_list()]
        local = pl.Series([moment.local for moment in read if moment is not None], dtype=pl.Datetime("us"))
        steps = local.diff().dt.total_seconds().abs().drop_nulls() / 60
    usual = steps.filter(steps > 0).median()
    return float(usual) if isinstance(usual, (int, float)) else None
