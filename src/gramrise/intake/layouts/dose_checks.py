"""Columns of one dose: the unit beside an amount, and two columns that say the same amount."""

import polars as pl

from gramrise.connectors.layout import GlucoseGiven, Layout
from gramrise.intake.cells import dose_unit_named, read_amount, read_number, source_named
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.layouts.column_profiles import ColumnProfile, profile_columns
from gramrise.intake.layouts.row_columns import units_in
from gramrise.intake.words import HeaderWords, folded, header_key

_COUNTED = ("piece", "ml", "gram", "bottle")
_MOST_TIMES = 20  # our choice: nobody gives one amount more often in one row
_SAME_G = 0.05  # our choice: two columns that differ by less are one amount, rounded


def with_dose_units(
    layout: Layout, used: list[str], table: TextTable, context: ReadContext, evidence: Evidence
) -> Layout:
    """The layout with the column of units named beside each amount given; a unit nobody knows stays open.

    used  columns that the layout names
    """
    parts = [part for part in layout.brings if isinstance(part, GlucoseGiven) and not part.remarks_too]
    if not parts:
        return layout
    taken = {table.column(name) for name in used}
    free = [column for column in profile_columns(table, context.words) if str(column.at) not in taken]
    united = [column for column in free if column.holds == "text" and _says_units(column, context.words)]
    if not united:
        return layout
    for part in parts:
        evidence.open += [point for column in united if (point := _unit_open(part, column, table, context))]
    if len(united) > 1:
        evidence.open.append(_several_units(united))
    evidence.prove(
        f"'{united[0].label}' says what the amounts count", f"its cells are such as '{united[0].examples[0]}'"
    )
    named = {id(part) for part in parts if not part.unit_column}
    brings = tuple(
        part.model_copy(update={"unit_column": united[0].name}) if id(part) in named else part for part in layout.brings
    )
    return layout.model_copy(update={"brings": brings})


def check_no_factor(
    layout: Layout, used: list[str], table: TextTable, context: ReadContext, evidence: Evidence
) -> None:
    """Adds an open point for a column of whole numbers beside an amount that may say how often it was given.

    used  columns that the layout names
    """
    if not any(isinstance(part, GlucoseGiven) and not part.remarks_too for part in layout.brings):
        return
    taken = {table.column(name) for name in used}
    for column in profile_columns(table, context.words):
        if column.holds == "number" and str(column.at) not in taken and _may_multiply(column, table, context.words):
            evidence.open.append(
                OpenPoint(
                    "factor_open",
                    f"column '{column.label}' may say how often the amount beside it was given",
                    "write all that was given as the amount, and leave the column out; or say so in a layout",
                    ("the amount is all that was given",),
                    (f'no part for "{column.name}"',),
                )
            )


def _may_multiply(column: ColumnProfile, table: TextTable, words: HeaderWords) -> bool:
    """Whether a header says 'times' or 'number', and the cells are neither all 1 nor a count of the rows."""
    said = set(header_key(column.label).split())
    factors, numbers = (
        {folded(word) for word in found} for found in (words.amounts["product"], words.columns["row_number"])
    )
    cells = [read_number(cell) for cell in table.cells[str(column.at)].fill_null("").to_list() if cell.strip()]
    whole = [cell for cell in cells if cell is not None and cell == int(cell) and 0 < cell <= _MOST_TIMES]
    if len(whole) < len(cells) or set(whole) == {1.0}:
        return False
    counted = len(set(whole)) == len(whole) and whole in (sorted(whole), sorted(whole, reverse=True))
    return bool(said) and (said <= factors or (said <= factors | numbers and not counted))


def _says_units(column: ColumnProfile, words: HeaderWords) -> bool:
    if column.meanings & {"source", "form", "note", "glucose_source"}:
        return False
    return "unit" in column.meanings or bool(units_in(column, words)) or holds_dose_units(column, words)


def holds_dose_units(column: ColumnProfile, words: HeaderWords) -> bool:
    """Whether every cell of a column is a word for pieces, mL, grams or bottles, and no amount."""
    return bool(column.examples) and all(dose_unit_named(cell, words) for cell in column.examples)


def _unit_open(part: GlucoseGiven, column: ColumnProfile, table: TextTable, context: ReadContext) -> OpenPoint | None:
    """A unit beside an amount that is none of those in which glucose is counted."""
    cells = _filled(table, part.amount or part.grams or part.text).select(_cell(str(column.at))).to_series()
    known = {"gram"} if part.grams else set(_COUNTED)
    odd = [
        cell for cell in cells.unique(maintain_order=True) if cell and dose_unit_named(cell, context.words) not in known
    ]
    if not odd:
        return None
    return OpenPoint(
        "dose_unit_open", f"column '{column.label}' says '{odd[0][:40]}' beside an amount of glucose given",
        "write pieces, mL or g beside each amount" if not part.grams else "write the grams of glucose, and g beside",
    )  # fmt: skip


def _several_units(columns: list[ColumnProfile]) -> OpenPoint:
    named = " and ".join(f"'{column.label}'" for column in columns)
    return OpenPoint(
        "dose_unit_open", f"columns {named} both name units beside an amount", "leave one column of units in the file"
    )


def check_one_dose_a_row(layout: Layout, table: TextTable, context: ReadContext, evidence: Evidence) -> None:
    """Two columns of amounts in one row are one dose where they agree; where they do not, the table waits."""
    parts = [
        part for part in layout.brings if isinstance(part, GlucoseGiven) and not part.remarks_too and part.when is None
    ]
    for at, one in enumerate(parts):
        for other in parts[at + 1 :]:
            names = [part.amount or part.grams or part.text for part in (one, other)]
            both = _filled(_filled_table(table, names[0]), names[1])
            for row in both.iter_rows(named=True):
                first, second = (_grams(part, row, table, context) for part in (one, other))
                if first is None or second is None or abs(first - second) > _SAME_G:
                    evidence.open.append(_apart(names, row["row"]))
                    break


def _apart(names: list[str], row: int) -> OpenPoint:
    one, other = names
    return OpenPoint(
        "dose_columns_open", f"row {row} has an amount under '{one}' and under '{other}', and they are not the same",
        "say in a layout which counts",
        (f"'{one}' alone", f"'{other}' alone"), (f'no part for "{other}"', f'no part for "{one}"'),
    )  # fmt: skip


def _grams(part: GlucoseGiven, row: dict[str, str], table: TextTable, context: ReadContext) -> float | None:
    """The grams that one column of a row says; None where it does not say them for certain."""

    def cell(name: str) -> str:
        at = table.column(name) if name else None
        return (row[at] or "").strip() if at is not None else ""

    if part.grams:
        return read_number(cell(part.grams).rstrip("gG. "))
    sources = context.person.sources_now()
    named = source_named(part.source_is or cell(part.source), sources)
    text, unit = cell(part.amount or part.text), cell(part.unit_column)
    read = read_amount(f"{text} {unit}".strip(), sources, context.words, named)
    grams = [one.grams for one in read.given]
    return sum(one or 0.0 for one in grams) if grams and None not in grams and not read.question else None


def _cell(at: str) -> pl.Expr:
    return pl.col(at).fill_null("").str.strip_chars()


def _filled(table: TextTable, name: str) -> pl.DataFrame:
    at = table.column(name)
    return table.cells.filter(_cell(at) != "") if at is not None else table.cells.clear()


def _filled_table(table: TextTable, name: str) -> TextTable:
    return table.with_cells(_filled(table, name))
