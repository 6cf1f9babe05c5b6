"""A text note, or one amount as a person says it, to a batch."""

import hashlib
from dataclasses import replace
from datetime import date, datetime

from gramrise.connectors.layout import Layout, RecognisedBy
from gramrise.domain.batch import Batch
from gramrise.intake.context import ReadContext
from gramrise.intake.files import LineText, TextTable, cells_of
from gramrise.intake.rows.batches import batch_of
from gramrise.intake.rows.dose_entries import DoseEntry
from gramrise.intake.rows.dose_rows import add_dose_entries
from gramrise.intake.rows.noted_counts import timed_counts, untimed_counts
from gramrise.intake.rows.notes import note_lines
from gramrise.intake.rows.quarantine import Quarantine, bad_rows
from gramrise.intake.rows.taken_rows import TakenRows
from gramrise.intake.rows.unstated_sources import check_sources_stated

SPOKEN = Layout(name="give", about="Glucose given, as typed", recognised_by=RecognisedBy(entry_lines=True))


def note_batch(
    text: str, file: str, layout: Layout, context: ReadContext, named_day: date | None, saved_at_utc: datetime,
    digest: str,
) -> Batch:  # fmt: skip
    """A note's entries. Raises FileWaits where its days stay open, or where most of its sources are not stated.

    named_day     the date in the file's name, if there is one
    saved_at_utc  when the note was last saved
    digest        hash of the note's bytes
    """
    entries_alone, counted = untimed_counts(text, context, saved_at_utc)
    note = note_lines(entries_alone, context, file, named_day, saved_at_utc)
    given, timed = timed_counts(note.entries, context)
    table = TextTable(file, (), (), cells_of([]), text_of=LineText(text.split("\n"), []))
    quarantine = Quarantine(table, context.settings)
    taken = TakenRows(rows_offered=note.lines - len(timed))
    add_dose_entries(taken, quarantine, given, context, "note")
    quarantine.add(bad_rows(note.bad), "")
    taken.quarantine = quarantine.in_order
    check_sources_stated(taken, layout, file, context)
    if not note.dated:
        # The same words on another night are another note: the days belong to its content.
        days = sorted({entry.day.isoformat() for entry in note.entries})
        digest = hashlib.sha256(f"{digest} {days}".encode()).hexdigest()
    batch = batch_of(taken, file, layout, context, digest)
    return replace(batch, remarks=_days_told(note.earlier, context), counts=(*counted, *timed))


def _days_told(earlier: tuple[DoseEntry, ...], context: ReadContext) -> tuple[str, ...]:
    """What is said where entries without a date were taken as of the day before: a time to come may be a slip."""
    if not earlier:
        return ()
    first = min(entry.at_utc for entry in earlier).astimezone(context.person.zone_now())
    return (
        "Entries without a date whose time of day is later than that of the saving are of the day before: the first "
        f"was taken as {first:%a %d %b %Y %H:%M}. If another day is meant, write it above them.",
    )


def spoken_batch(text: str, taken_at_utc: datetime, context: ReadContext, noticed: str = "") -> Batch:
    """One amount, given at a known instant. `noticed`: who noticed, where it is stated apart from the words."""
    day = taken_at_utc.astimezone(context.person.zone_now()).date()
    table = TextTable(SPOKEN.name, (), (), cells_of([]), text_of=lambda _row: text)
    quarantine = Quarantine(table, context.settings)
    taken = TakenRows(rows_offered=1)
    entries = [DoseEntry(1, taken_at_utc, day, text, noticed=noticed)]
    if not context.earliest_utc <= taken_at_utc <= context.latest_utc:
        # A slip in the year, or a machine whose clock lost its battery: 'now' is in 1970.
        quarantine.add(bad_rows([(1, "time_out_of_range", f"{taken_at_utc:%Y-%m-%d}")]), "time")
        entries = []
    add_dose_entries(taken, quarantine, entries, context, SPOKEN.name)
    taken.quarantine = quarantine.in_order
    digest = hashlib.sha256(f"give {taken_at_utc.isoformat()} {text}".encode()).hexdigest()
    return batch_of(taken, table.file, SPOKEN, context, digest)
