"""Glucose given in a table or a note: its entries to doses, questions, and other events that their words state."""

import re

import polars as pl

from gramrise.connectors.layout import GlucoseGiven
from gramrise.intake.cells import dose_unit_named, form_named, noticed_by
from gramrise.intake.context import ReadContext
from gramrise.intake.files import ROW
from gramrise.intake.rows.dose_entries import DoseEntry, dose_frame, dose_questions, doses_of_entries, event_frame
from gramrise.intake.rows.event_rows import nothing_happened
from gramrise.intake.rows.quarantine import Quarantine, bad_rows
from gramrise.intake.rows.table_rows import TableRows
from gramrise.intake.rows.taken_rows import TakenRows
from gramrise.intake.words import HeaderWords

_NUMBER = re.compile(r"\d{1,9} \d{1,9}/\d{1,9}|\d{1,9}/\d{1,9}|\d+(?:[.,]\d+)?")  # '1 1/2' is one
_SPELLED = {"piece": "pieces", "ml": "mL", "gram": "g"}
# Beyond these a number is written with an exponent, and '1.3e+41 g' would be read as 1.3 and 41 g.
_WRITTEN_PLAINLY_G = (0.001, 1e6)


def add_doses(taken: TakenRows, rows: TableRows, part: GlucoseGiven) -> None:
    """Adds the doses of a table's rows. An amount that is missing beside a source is asked about."""
    name = part.text or part.amount or part.grams
    given = _grams(rows, part) if part.grams else _words(rows, part, name)
    source = rows.text(part.source) if part.source else pl.lit(part.source_is)
    source_alone = source != "" if part.source else pl.lit(False)
    empty = nothing_happened(rows, rows.text(name)) if part.remarks_too else rows.text(name) == ""
    blank = empty & ~source_alone
    if not part.remarks_too:
        given = rows.with_remarks_heeded(given, of_amounts=True)
    given = given.with_columns(code=pl.when(blank).then(pl.lit("blank")).otherwise(pl.col("code")))
    good = rows.screen(given, rows.label(name), unsure_is_bad=True)
    entries = _entries(rows, part, good.with_columns(source_text=source))
    add_dose_entries(taken, rows.quarantine, entries, rows.context, "file", rows.label(name), part.remarks_too)
    if not part.remarks_too:
        taken.dosed_rows |= {entry.row for entry in entries}


def _words(rows: TableRows, part: GlucoseGiven, name: str) -> pl.DataFrame:
    said, unit = rows.text(name), rows.text(part.unit_column, may_lack=True)
    words = rows.context.words
    alone = said
    if part.amount_unit:
        different = rows.frame.select(said.alias("said"))["said"].unique().to_list()
        alone = said.replace({cell: _in_unit(cell, part.amount_unit, words) for cell in different if cell})
    units = {cell: dose_unit_named(cell, words) for cell in rows.frame.select(unit.alias("u"))["u"].unique() if cell}
    if not part.amount_unit and set(units.values()) - {"piece"}:
        # Beside some amounts stands a unit that is not the usual one: a bare number may lack its own.
        alone = pl.when(said.str.contains(r"\p{L}") | (said == "")).then(said).otherwise(said + pl.lit(" ?"))
    # A unit beside an amount whose cell or header names another: the mark of doubt makes a question of it.
    other = [cell for cell, named in units.items() if part.amount_unit and named != part.amount_unit]
    doubted = said.str.contains(r"\p{L}") | unit.is_in(other)
    beside = said + pl.when(doubted).then(pl.lit(" ? ")).otherwise(pl.lit(" ")) + unit
    value = pl.when(unit == "").then(alone).when(said == "").then(said).otherwise(beside)
    return rows.of_part(part).with_columns(value=value, code=_unit_code(rows, part))


def _in_unit(cell: str, unit: str, words: HeaderWords) -> str:
    """The text of a cell under a header that says the unit: with it, where the cell names none.

    Where the cell names another, a mark of doubt makes a question of it.
    """
    named = {found for word in re.findall(r"[^\W\d_]+", cell) if (found := dose_unit_named(word, words))}
    if len(_NUMBER.findall(cell)) > 1:
        return f"{cell} ?"
    if not named and any(mark.isdigit() or mark in "½¼¾⅓⅔" for mark in cell):
        return f"{cell} {_SPELLED[unit]}"
    return cell if named <= {unit} else f"{cell} ?"


def _unit_code(rows: TableRows, part: GlucoseGiven) -> pl.Expr:
    """'unit_unread' where the unit beside an amount is none in which glucose is counted; else ''."""
    if not part.unit_column or rows.table.column(part.unit_column) is None:
        return pl.lit("")
    unit, words = rows.text(part.unit_column), rows.context.words
    different = rows.frame.select(unit.alias("u"))["u"].unique().to_list()
    known = {"gram"} if part.grams else {"piece", "ml", "gram", "bottle"}
    odd = [one for one in different if one and dose_unit_named(one, words) not in known]
    return pl.when(unit.is_in(odd)).then(pl.lit("unit_unread")).otherwise(pl.lit(""))


def _grams(rows: TableRows, part: GlucoseGiven) -> pl.DataFrame:
    """Rows whose amount column holds grams alone: a number becomes 'NUMBER g'."""
    given = rows.numbers(part, part.grams, "gram")
    code = (
        pl.when(pl.col("number").is_null()).then(pl.lit("not_a_number"))
        .when(pl.col("number") == 0).then(pl.lit("amount_zero"))
        .when(~pl.col("number").is_between(*_WRITTEN_PLAINLY_G)).then(pl.lit("amount_implausible"))
        .otherwise(_unit_code(rows, part))
    )  # fmt: skip
    given = given.with_columns(code=code)
    return given.with_columns(value=pl.when(pl.col("code") == "").then(pl.format("{} g", "number")).otherwise("value"))


def _entries(rows: TableRows, part: GlucoseGiven, good: pl.DataFrame) -> list[DoseEntry]:
    zone = rows.context.person.zone_now().key
    picked = good.select(
        ROW,
        "at_utc",
        pl.col("at_utc").dt.convert_time_zone(zone).dt.date().alias("day"),
        "value",
        "source_text",
        rows.text(part.form, may_lack=True).alias("form"),
        rows.text(part.note, may_lack=True).alias("note"),
        rows.text(part.noticed, may_lack=True).alias("noticed"),
    )
    words, name = rows.context.words, rows.context.person.name
    return [
        DoseEntry(row, at, day, value, source, form_named(form, words), note, noticed_by(noticed, words, name))
        for row, at, day, value, source, form, note, noticed in picked.iter_rows()
    ]


def add_dose_entries(
    taken: TakenRows,
    quarantine: Quarantine,
    entries: list[DoseEntry],
    context: ReadContext,
    origin: str,
    label: str = "",
    remarks_too: bool = False,
) -> None:
    """Reads the words of entries and adds what they state; entries that cannot be read go into the quarantine."""
    if not remarks_too:
        entries = [entry for entry in entries if entry.row not in taken.dosed_rows]  # the same dose in another column
    found = doses_of_entries(entries, context, origin, remarks_too, taken.dosed_rows, heading=label)
    doses = dose_frame(found)
    taken.rows_repeated += found.repeated
    taken.add_doses(doses, dose_questions(found, doses, context.person), found.unstated_sources)
    if found.events:
        taken.add_events(event_frame(found.events))
    quarantine.add(bad_rows(found.bad), label)
