"""One file read for one person: unpacked, cut, recognised, proved, and turned into batches."""

import hashlib
import re
from datetime import UTC, date, datetime
from pathlib import Path

from gramrise.connectors.layout import Layout, RecognisedBy
from gramrise.connectors.shelf import load_layouts
from gramrise.domain.batch import Batch
from gramrise.domain.person import Person
from gramrise.intake.choosing import choose
from gramrise.intake.dose_rows import Entry
from gramrise.intake.note import is_note, note_lines
from gramrise.intake.parts import Part, parts_of
from gramrise.intake.problems import FileWaits
from gramrise.intake.rows import Circumstances, TableReader, Taken
from gramrise.intake.settings import IntakeSettings, shipped_settings
from gramrise.intake.table import LineText, Table, cells_of
from gramrise.intake.tables import tables_of
from gramrise.intake.words import HeaderWords, shipped_words

_DAY_IN_NAME = re.compile(r"(?<!\d)(\d{4})-?(\d{2})-?(\d{2})(?!\d)")


def read_file(
    path: Path,
    person: Person,
    *,
    now_utc: datetime,
    settings: IntakeSettings | None = None,
    layouts: tuple[Layout, ...] | None = None,
    layout_name: str | None = None,
    words: HeaderWords | None = None,
) -> tuple[Batch, ...]:
    """A file's tables, each as a batch of good rows, quarantine and questions.

    layouts      layouts at hand; shipped ones where none are given (`connectors.shelf.load_layouts(home)`)
    layout_name  read every table by this layout, whatever it looks like
    raises       FileWaits (nothing was guessed: what to add), FileRefused (out of bounds, or no table)
    """
    around = Circumstances(person, settings or shipped_settings(), words or shipped_words(), now_utc)
    at_hand = layouts if layouts is not None else load_layouts(None)
    batches: list[Batch] = []
    for part in parts_of(path, around.settings):
        batches += _read_part(part, path, around, at_hand, layout_name)
    if not batches:
        raise FileWaits("nothing_found", path.name, "no table and no entry was found in it", "look at the file")
    return tuple(_told_apart(batch, at, len(batches)) for at, batch in enumerate(batches))


def _read_part(
    part: Part, path: Path, around: Circumstances, layouts: tuple[Layout, ...], layout_name: str | None
) -> list[Batch]:
    digest = hashlib.sha256(part.data).hexdigest()
    note = next((one for one in layouts if one.recognised_by.entry_lines), None)
    if part.text is not None and note is not None and _meant_as_note(part.text, layout_name, note):
        return [_note_batch(part, path, around, note, digest)]
    batches = []
    for table in tables_of(part, layouts, around, layout_name):
        layout = choose(table, layouts, layout_name, around)
        taken = TableReader(table, layout, around).read()
        batches.append(batch_of(taken, table, layout, around, digest))
    return batches


def _meant_as_note(text: str, layout_name: str | None, note: Layout) -> bool:
    return layout_name == note.name if layout_name is not None else is_note(text)


def batch_of(taken: Taken, table: Table, layout: Layout, around: Circumstances, digest: str) -> Batch:
    """What the store takes in."""
    return Batch(
        person_id=around.person.person_id,
        file=table.file,
        content_hash=digest,
        layout=layout.name,
        rows_offered=taken.rows_offered,
        readings=taken.readings,
        fingers=taken.fingers,
        doses=taken.doses,
        events=taken.events,
        weights=taken.weights,
        quarantine=taken.quarantine,
        questions=tuple(taken.questions),
        rows_repeated=taken.rows_repeated,
        rows_passed_over=taken.rows_passed_over,
    )


def _told_apart(batch: Batch, at: int, count: int) -> Batch:
    """Several tables of one file are several contents: each gets a hash of its own."""
    if count == 1:
        return batch
    from dataclasses import replace

    return replace(batch, content_hash=hashlib.sha256(f"{batch.content_hash} table {at + 1}".encode()).hexdigest())


def _note_batch(part: Part, path: Path, around: Circumstances, layout: Layout, digest: str) -> Batch:
    assert part.text is not None  # a note is text
    saved = datetime.fromtimestamp(path.stat().st_mtime, UTC)
    named = _DAY_IN_NAME.search(path.stem)
    zone = around.person.zone_now()
    lines = note_lines(part.text, zone, around.settings, around.words, part.name, _day(named), saved, around.now_utc)
    text_lines = part.text.split("\n")
    table = Table(part.name, (), (), cells_of([]), text_of=LineText(text_lines, []))
    reader = TableReader(table, layout, around)
    taken = reader.read_entries(lines.entries, lines.bad, lines.lines)
    if not lines.dated:
        # The same words on another night are another note: the days belong to its content.
        days = sorted({entry.day.isoformat() for entry in lines.entries})
        digest = hashlib.sha256(f"{digest} {days}".encode()).hexdigest()
    return batch_of(taken, table, layout, around, digest)


def read_note(
    text: str,
    taken_at_utc: datetime,
    person: Person,
    *,
    now_utc: datetime,
    settings: IntakeSettings | None = None,
    words: HeaderWords | None = None,
) -> Batch:
    """One amount as a person says it, given at a known instant: '3 pieces'. Its rows have origin 'give'."""
    around = Circumstances(person, settings or shipped_settings(), words or shipped_words(), now_utc)
    local = taken_at_utc.astimezone(person.zone_now())
    table = Table("give", (), (), cells_of([]), text_of=lambda _row: text)
    reader = TableReader(table, GIVEN, around)
    taken = reader.read_entries([Entry(1, taken_at_utc, local.date(), text)], [], 1, "give")
    digest = hashlib.sha256(f"give {taken_at_utc.isoformat()} {text}".encode()).hexdigest()
    return batch_of(taken, table, GIVEN, around, digest)


GIVEN = Layout(name="give", about="Glucose given, as typed", recognised_by=RecognisedBy(entry_lines=True))


def _day(found: re.Match[str] | None) -> date | None:
    if found is None:
        return None
    try:
        return date(int(found[1]), int(found[2]), int(found[3]))
    except ValueError:
        return None
