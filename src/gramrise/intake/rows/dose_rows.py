"""Glucose given in a table or note: its rows to doses, questions, and what else their words say."""

from typing import TYPE_CHECKING

import polars as pl

from gramrise.connectors import layout as shape
from gramrise.domain.frames import DOSES
from gramrise.intake.cells.amounts import form_named
from gramrise.intake.files.text_table import ROW
from gramrise.intake.rows.dose_entries import DoseEntry, dose_frame, dose_questions, event_frame, take_dose_entries
from gramrise.intake.rows.quarantine import BAD_ROWS

if TYPE_CHECKING:
    from gramrise.intake.rows.table_reader import TableReader


def take_doses(reader: "TableReader", part: shape.GlucoseGiven, rows: pl.DataFrame) -> None:
    """Adds the doses of a table's rows to what the reader has taken. An amount missing beside a source is asked."""
    name = part.text or part.amount or part.grams
    label = reader.table.label(reader.column(name))
    rows = _in_grams(reader, part, rows) if part.grams else reader.with_value(rows, name).with_columns(code=pl.lit(""))
    empty = reader.text(name) == ""
    source_alone = reader.text(part.source) != "" if part.source else pl.lit(False)
    rows = rows.with_columns(code=pl.when(empty & ~source_alone).then(pl.lit("blank")).otherwise(pl.col("code")))
    good = reader.judged(rows, label, unsure_is_bad=False)
    picked = good.select(
        ROW,
        "at_utc",
        day=pl.col("at_utc").dt.convert_time_zone(reader.person.zone_now().key).dt.date(),
        value="value",
        source=reader.text(part.source) if part.source else pl.lit(part.source_is),
        form=reader.text(part.form, may_lack=True),
        note=reader.text(part.note, may_lack=True),
        certain="certain",
    )
    entries = [
        DoseEntry(row, at, day, value, source, form_named(form, reader.words), note, certain)
        for row, at, day, value, source, form, note, certain in picked.iter_rows()
    ]
    add_dose_entries(reader, entries, part.remarks_too, "file", label)


def _in_grams(reader: "TableReader", part: shape.GlucoseGiven, rows: pl.DataFrame) -> pl.DataFrame:
    """Rows whose amount column holds grams alone: a number becomes 'NUMBER g'."""
    rows = reader.with_number(rows, part.grams, "gram")
    code = (
        pl.when(pl.col("number").is_null()).then(pl.lit("not_a_number"))
        .when(pl.col("number") == 0).then(pl.lit("amount_zero"))
        .when(pl.col("number") < 0).then(pl.lit("amount_implausible"))
        .otherwise(pl.lit(""))
    )  # fmt: skip
    rows = rows.with_columns(code=code)
    return rows.with_columns(value=pl.when(pl.col("code") == "").then(pl.format("{} g", "number")).otherwise("value"))


def add_dose_entries(
    reader: "TableReader", entries: list[DoseEntry], remarks_too: bool, origin: str, label: str
) -> None:
    """Reads entries' words and adds what they say; what cannot be read is set aside."""
    taken = take_dose_entries(entries, reader.person, reader.settings, reader.words, origin, remarks_too)
    frame = dose_frame(taken)
    reader.taken.questions += dose_questions(taken, frame, reader.person)
    reader.taken.unstated += taken.unstated
    reader.taken.doses = DOSES.check(pl.concat([reader.taken.doses, frame]))
    if taken.events:
        events = event_frame(taken.events).unique(maintain_order=True)
        reader.taken.events = pl.concat([reader.taken.events, events])
    bad = pl.DataFrame(taken.bad, schema=BAD_ROWS, orient="row")
    reader.quarantine.add(bad, label)
