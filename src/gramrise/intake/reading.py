"""One file read for one person: unpacked, cut, recognised, proved, and turned into batches."""

import hashlib
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

from gramrise.connectors.layout import Layout, RecognisedBy
from gramrise.connectors.shelf import load_layouts
from gramrise.domain.batch import Batch
from gramrise.domain.person import Person
from gramrise.intake.batches import batch_of, joined
from gramrise.intake.blocks import NotOnePlainTable, is_large, large_batches
from gramrise.intake.choosing import check_named, choose, fits
from gramrise.intake.circumstances import Circumstances
from gramrise.intake.dose_rows import Entry
from gramrise.intake.drafting import draft_of
from gramrise.intake.evidence import Findings
from gramrise.intake.note import is_note, note_lines
from gramrise.intake.parts import Part, parts_of
from gramrise.intake.problems import FileWaits
from gramrise.intake.rows import TableReader, Taken
from gramrise.intake.settings import IntakeSettings, shipped_settings
from gramrise.intake.settling import settled
from gramrise.intake.table import LineText, Table, cells_of
from gramrise.intake.tables import tables_of, under_known_header
from gramrise.intake.unstated import check_stated
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
    check_named(layout_name, at_hand, path.name)
    batches: list[Batch] | None = None
    if is_large(path, around.settings):
        try:
            batches = [joined(list(large_batches(path, around, at_hand, layout_name)))]
        except NotOnePlainTable as why:
            if path.stat().st_size > around.settings.most_small_file_bytes:
                raise why.waits from why
    if batches is None:
        batches = [batch for part in parts_of(path, around.settings, _encoding(at_hand, layout_name))
                   for batch in _read_part(part, path, around, at_hand, layout_name)]  # fmt: skip
    if not batches:
        raise FileWaits("nothing_found", path.name, "no table and no entry was found in it", "look at the file")
    return tuple(_told_apart(batch, at, len(batches)) for at, batch in enumerate(batches))


def read_batches(
    path: Path,
    person: Person,
    *,
    now_utc: datetime,
    settings: IntakeSettings | None = None,
    layouts: tuple[Layout, ...] | None = None,
    layout_name: str | None = None,
    words: HeaderWords | None = None,
) -> Iterator[Batch]:
    """A file in pieces: a large plain table block by block, memory bounded by the block; any other file as `read_file`.

    Each block of one file carries a content hash of its own. All of them belong in one transaction.
    """
    around = Circumstances(person, settings or shipped_settings(), words or shipped_words(), now_utc)
    at_hand = layouts if layouts is not None else load_layouts(None)
    if not is_large(path, around.settings):
        yield from read_file(
            path, person, now_utc=now_utc, settings=settings, layouts=layouts, layout_name=layout_name, words=words
        )
        return
    begun = False
    try:
        for batch in large_batches(path, around, at_hand, layout_name):
            begun = True
            yield batch
    except NotOnePlainTable as why:
        if begun or path.stat().st_size > around.settings.most_small_file_bytes:
            raise why.waits from why
        yield from read_file(
            path, person, now_utc=now_utc, settings=settings, layouts=layouts, layout_name=layout_name, words=words
        )


def _encoding(layouts: tuple[Layout, ...], layout_name: str | None) -> str:
    named = next((layout for layout in layouts if layout.name == layout_name), None)
    return named.file.encoding if named is not None else "auto"


def _read_part(
    part: Part, path: Path, around: Circumstances, layouts: tuple[Layout, ...], layout_name: str | None
) -> list[Batch]:
    digest = hashlib.sha256(part.data).hexdigest()
    note = next((one for one in layouts if one.recognised_by.entry_lines), None)
    if part.text is not None and note is not None and _meant_as_note(part.text, layout_name, note, layouts):
        return [_note_batch(part, path, around, note, digest)]
    batches = []
    held = tables_of(part, layouts, around, layout_name)
    for at, table in enumerate(held.tables):
        if table.cells.height == 0:
            batches += _empty(table, layouts, around, digest)
            continue
        found = Findings()
        layout = settled(table, choose(table, layouts, layout_name, around, found), around, found)
        if found.open:
            raise found.open[0].waits(table.file, draft_of(layout))
        taken = TableReader(table, layout, around).read(held.bad if at == 0 else [])
        check_stated(taken, layout, table.file, around)
        batches.append(batch_of(taken, table, layout, around, digest))
    return batches


def _empty(table: Table, layouts: tuple[Layout, ...], around: Circumstances, digest: str) -> list[Batch]:
    """A known header with nothing below it is an export of nothing: no rows, and nothing wrong."""
    known = [layout for layout in layouts if fits(table, layout, around.words)]
    return [batch_of(Taken(), table, known[0], around, digest)] if len(known) == 1 else []


def _meant_as_note(text: str, layout_name: str | None, note: Layout, layouts: tuple[Layout, ...]) -> bool:
    """Named as a note, or in the form of one and under no header that a table layout knows."""
    if layout_name is not None:
        return layout_name == note.name
    return is_note(text) and not under_known_header(text, layouts)


def _told_apart(batch: Batch, at: int, count: int) -> Batch:
    """Several tables of one file are several contents: each gets a hash of its own."""
    if count == 1:
        return batch
    return replace(batch, content_hash=hashlib.sha256(f"{batch.content_hash} table {at + 1}".encode()).hexdigest())


def _note_batch(part: Part, path: Path, around: Circumstances, layout: Layout, digest: str) -> Batch:
    assert part.text is not None  # a note is text
    saved = datetime.fromtimestamp(path.stat().st_mtime, UTC)
    named = _DAY_IN_NAME.search(path.stem)
    lines = note_lines(
        part.text, around.person, around.settings, around.words, part.name, _day(named), saved, around.now_utc
    )
    text_lines = part.text.split("\n")
    table = Table(part.name, (), (), cells_of([]), text_of=LineText(text_lines, []))
    reader = TableReader(table, layout, around)
    taken = reader.read_entries(lines.entries, lines.bad, lines.lines)
    check_stated(taken, layout, part.name, around)
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
