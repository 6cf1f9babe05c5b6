"""One table under its layout: each kind of row the layout brings, in the order of the layout."""

import re
from collections.abc import Sequence
from typing import Final

import polars as pl

from gramrise.connectors.layout import DRAFT_NAME, Food, Glucose, GlucoseGiven, Insulin, Layout, Part, Weight
from gramrise.intake.context import ReadContext
from gramrise.intake.files import ROW, TextTable
from gramrise.intake.rows.dose_rows import add_doses
from gramrise.intake.rows.event_rows import food_events, insulin_events, worded_events
from gramrise.intake.rows.glucose_rows import glucose_rows
from gramrise.intake.rows.row_account import check_rows
from gramrise.intake.rows.table_rows import TableRows
from gramrise.intake.rows.taken_rows import TakenRows
from gramrise.intake.rows.weight_checks import weight_questions
from gramrise.intake.rows.weight_rows import weight_rows

_WRITTEN: Final = re.compile(r"[^\W_]")  # a letter or a figure: ornaments say nothing


def read_table(
    table: TextTable,
    layout: Layout,
    context: ReadContext,
    before_utc: int | None = None,
    bad_lines: Sequence[tuple[int, str, str]] = (),
) -> TakenRows:
    """The good rows of a table, and its bad ones in quarantine.

    layout      has no open entry left
    before_utc  epoch microseconds of the last instant of the block before, where the table is cut into blocks
    bad_lines   (row, code, text) of lines that no table could take: they are set aside with this one's bad rows
    """
    rows = TableRows(table, layout, context, before_utc, bad_lines)
    taken = TakenRows(rows_offered=rows.offered, last_utc=rows.last_utc)
    if rows.frame.height:
        for part in sorted(layout.brings, key=_amounts_first):
            _add_part(taken, rows, part)
        _set_aside_without_time(rows)
        _set_aside_uncut(rows)
        if layout.name == DRAFT_NAME:
            _set_aside_without_kind(rows, layout)
    taken.rows_passed_over = rows.passed_over
    taken.quarantine = rows.quarantine.in_order
    check_rows(table, len(bad_lines), rows.used_rows, taken)
    return taken


def _set_aside_without_kind(rows: TableRows, layout: Layout) -> None:
    """Where a column says what each row is, a row in which it is blank is set aside by name."""
    kinds = {part.when.column if part.when is not None else "" for part in layout.brings}
    if len(kinds) != 1 or "" in kinds:
        return
    (kind,) = kinds
    blank = rows.frame.filter((pl.col("status") == "blank") & (rows.text(kind) == ""))
    rows.screen(blank.with_columns(value=pl.lit(""), code=pl.lit("no_kind")), rows.label(kind))


def _set_aside_without_time(rows: TableRows) -> None:
    """A row without a time of which no kind took anything is set aside by name where something was written in it.

    That is letters or figures in the cell of the time, or in the only cell of the line; or figures in two cells and
    more (a lost delimiter moves what follows it). A day alone heads the rows below it, and a number of a row without
    anything else is none.
    """
    left = rows.frame.filter((pl.col("status") == "blank") & (pl.col("no_time") != ""))
    worded = left["time_text"].str.contains(r"^\s*\p{L}").fill_null(False)
    unread = left["no_time"].is_in(["no_time", "not_a_time"]) & left["time_text"].str.contains(r"[\p{L}\d]")
    moved = left.select(_cells_with(r"\d", rows.table) > 1).to_series()
    alone = pl.Series([_WRITTEN.search(_only_cell(rows.table, row)) is not None for row in left[ROW]], dtype=pl.Boolean)
    strange = left.filter(worded | unread.fill_null(False) | moved | alone)
    if strange.height:
        rows.screen(strange.with_columns(value=pl.col("time_text"), code=pl.lit("not_a_time")), "")


def _set_aside_uncut(rows: TableRows) -> None:
    """A row of a time alone, or of a time and all the rest in one cell, is set aside where its line is one cell.

    A row without a value has the delimiters that end its empty cells; a line without any was cut off, or is quoted as a
    whole.
    """
    alone = (pl.col("status") == "blank") & (pl.col("no_time") == "") & (_cells_with(r"\S", rows.table) == 1)
    left = rows.frame.filter(alone) if rows.table.width > 1 else rows.frame.clear()
    texts = pl.Series([_only_cell(rows.table, row) for row in left[ROW]], dtype=pl.String)
    strange = left.with_columns(value=texts, code=pl.lit("uncut")).filter(texts != "")
    if strange.height:
        rows.screen(strange, "")


def _cells_with(pattern: str, table: TextTable) -> pl.Expr:
    """How many cells of a row hold a pattern."""
    return pl.sum_horizontal(pl.col(str(at)).fill_null("").str.contains(pattern) for at in range(table.width))


def _only_cell(table: TextTable, row: int) -> str:
    """The text of a line that is one cell where the table has more: not cut, or quoted whole; else ''."""
    if not table.delimiter:
        return ""
    text = table.text_of(row).strip()
    within = text[1:-1] if len(text) > 1 and text[0] == text[-1] == '"' and text.count('"') % 2 == 0 else text
    whole = within is not text and '"' not in within.replace('""', "")
    return within if whole or table.delimiter not in text else ""


def _amounts_first(part: Part) -> int:
    """Amounts of a source before grams that say the same, and both before remarks."""
    return (2 if part.remarks_too else int(bool(part.grams))) if isinstance(part, GlucoseGiven) else 0


def _add_part(taken: TakenRows, rows: TableRows, part: Part) -> None:
    if isinstance(part, Glucose):
        values, repeated = glucose_rows(rows, part)
        taken.rows_repeated += repeated
        add = taken.add_readings if part.kind == "readings" else taken.add_fingers
        add(values)
    elif isinstance(part, GlucoseGiven):
        add_doses(taken, rows, part)
    elif isinstance(part, Insulin):
        taken.add_events(insulin_events(rows, part))
    elif isinstance(part, Food) and part.grams:
        taken.add_events(food_events(rows, part))
    elif isinstance(part, Weight):
        taken.add_weights(weight_rows(rows, part))
        weighed = dict(taken.weights.select("on", "kg").iter_rows())
        taken.questions += weight_questions(weighed, rows.context.person, rows.context.settings)
    else:
        taken.add_events(worded_events(rows, part))
