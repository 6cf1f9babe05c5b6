"""One file read for one person: unpacked, cut, recognised, proved, and turned into batches."""

import hashlib
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

from gramrise.connectors.layout import Layout
from gramrise.connectors.shelf import load_layouts
from gramrise.domain.batch import Batch
from gramrise.domain.person import Person
from gramrise.domain.printable import printable
from gramrise.intake.context import ReadContext, other_ids, sources_of_others
from gramrise.intake.files import (
    FileMember,
    NotOnePlainTable,
    TextTable,
    is_large,
    needs_own_process,
    tables_of,
    under_known_header,
    unpack,
)
from gramrise.intake.large_files import large_batches
from gramrise.intake.layouts import check_named, contradicted_rows, fits, proved_layout, without_rows
from gramrise.intake.problems import FileWaits
from gramrise.intake.reading_process import reading_process
from gramrise.intake.rows import (
    batch_of,
    check_sources_stated,
    check_told,
    is_note,
    joined,
    note_batch,
    read_table,
)
from gramrise.intake.settings import IntakeSettings, shipped_settings
from gramrise.intake.standards import (
    is_line_file,
    is_standard_layout,
    line_file_batches,
    member_batches,
    standard_of,
)
from gramrise.intake.tables_together import NamedTable, check_one_person, named_table, says_nothing
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
    household: tuple[Person, ...] = (),
    containers: tuple[str, ...] = (),
) -> tuple[Batch, ...]:
    """A file's tables, each as a batch of good rows, quarantine and questions.

    layouts      layouts at hand; shipped ones where none are given (`connectors.shelf.load_layouts(home)`)
    layout_name  read every table by this layout, whatever it looks like
    household    everybody known: a file of records that name their persons may hold several
    containers   tins and bags that were counted before: a note may say what is left in them
    raises       FileWaits (nothing was guessed: what to add), FileRefused (out of bounds, or no table)
    """
    context = _context(person, now_utc, settings, words, household, containers)
    kept = context.settings
    at_hand = layouts if layouts is not None else load_layouts(None)
    if not is_standard_layout(layout_name):
        check_named(layout_name, at_hand, printable(path.name))
    large = is_large(path, kept)
    standard = is_line_file(path, kept, layout_name) if large else None
    if standard is not None:
        by_person: dict[str, list[Batch]] = {}
        for batch in line_file_batches(path, standard, context, household):
            by_person.setdefault(batch.person_id, []).append(batch)
        whole = [joined(some) for some in by_person.values()]
        return tuple(_with_own_hash(batch, at, len(whole)) for at, batch in enumerate(whole))
    if large and not needs_own_process(path):
        try:
            joined_up = joined(list(large_batches(path, context, at_hand, layout_name)))
            return (_with_own_hash(joined_up, 0, 1),)
        except NotOnePlainTable as why:
            if path.stat().st_size > kept.most_small_file_bytes:
                raise why.waits from why
    if large or needs_own_process(path):
        batches: tuple[Batch, ...] = reading_process.ask(
            "read", (path, context, at_hand, layout_name, household), printable(path.name), kept
        )
        return batches
    return read_in_this_process(path, context, at_hand, layout_name, household)


def read_in_this_process(
    path: Path,
    context: ReadContext,
    layouts: tuple[Layout, ...],
    layout_name: str | None,
    household: tuple[Person, ...],
) -> tuple[Batch, ...]:
    """As `read_file`, held whole, whatever the file may cost this process."""
    members = unpack(path, context.settings, _encoding(layouts, layout_name))
    named: list[NamedTable] = []
    batches: list[Batch] = []
    unread: list[str] = []
    for member in members:
        if member.passed_over:
            unread.append(f"{member.name}: {member.passed_over}; it was not read")
            continue
        found = _read_member(member, path, context, layouts, layout_name, household, named)
        batches += found
        if not found:
            unread.append(f"{member.name}: no table and no entry was found in it; it was not read")
    if layout_name is None:
        check_one_person(printable(path.name), named, context.words)
    if not batches:
        raise FileWaits(
            "nothing_found", printable(path.name), "no table and no entry was found in it", "look at the file"
        )
    batches[0] = replace(batches[0], remarks=(*batches[0].remarks, *unread))
    return tuple(_with_own_hash(batch, at, len(batches)) for at, batch in enumerate(batches))


def read_batches(
    path: Path,
    person: Person,
    *,
    now_utc: datetime,
    settings: IntakeSettings | None = None,
    layouts: tuple[Layout, ...] | None = None,
    layout_name: str | None = None,
    words: HeaderWords | None = None,
    household: tuple[Person, ...] = (),
    containers: tuple[str, ...] = (),
) -> Iterator[Batch]:
    """A file in pieces: a large plain table block by block, memory bounded by the block; any other file as `read_file`.

    Each block of one file carries a content hash of its own. All of them belong in one transaction.
    """
    context = _context(person, now_utc, settings, words, household, containers)
    at_hand = layouts if layouts is not None else load_layouts(None)
    standard = is_line_file(path, context.settings, layout_name) if is_large(path, context.settings) else None
    if standard is not None:
        yield from line_file_batches(path, standard, context, household)
        return
    if not is_large(path, context.settings) or needs_own_process(path):
        yield from read_file(
            path, person, now_utc=now_utc, settings=settings, layouts=layouts, layout_name=layout_name, words=words,
            household=household, containers=containers,
        )  # fmt: skip
        return
    begun = False
    try:
        for batch in large_batches(path, context, at_hand, layout_name):
            begun = True
            yield batch
    except NotOnePlainTable as why:
        if begun or path.stat().st_size > context.settings.most_small_file_bytes:
            raise why.waits from why
        yield from read_file(
            path, person, now_utc=now_utc, settings=settings, layouts=layouts, layout_name=layout_name, words=words,
            household=household, containers=containers,
        )  # fmt: skip


def _context(
    person: Person,
    now_utc: datetime,
    settings: IntakeSettings | None,
    words: HeaderWords | None,
    household: tuple[Person, ...],
    containers: tuple[str, ...],
) -> ReadContext:
    kept, known = settings or shipped_settings(), words or shipped_words()
    others, theirs = other_ids(person, household), sources_of_others(person, household, known)
    return ReadContext(person, kept, known, now_utc, containers, others, theirs)


def _encoding(layouts: tuple[Layout, ...], layout_name: str | None) -> str:
    named = next((layout for layout in layouts if layout.name == layout_name), None)
    return named.file.encoding if named is not None else "auto"


def _read_member(
    member: FileMember,
    path: Path,
    context: ReadContext,
    layouts: tuple[Layout, ...],
    layout_name: str | None,
    household: tuple[Person, ...],
    named: list[NamedTable],
) -> list[Batch]:
    """The batches of a member's tables or records; what names each table is added to `named`."""
    standard = standard_of(member.text, layout_name) if member.text is not None else None
    if standard is not None:
        return member_batches(member, standard, context, household)
    digest = hashlib.sha256(member.data).hexdigest()
    note = next((one for one in layouts if one.recognised_by.entry_lines), None)
    if (
        member.text is not None
        and note is not None
        and _meant_as_note(member.text, layout_name, note, layouts, context)
    ):
        saved = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        return [note_batch(member.text, member.name, note, context, _day_in(path.stem), saved, digest)]
    batches, passed = [], []
    cut = tables_of(member, layouts, context, layout_name)
    beside = cut.bad  # set aside with the first table that is read
    for table in cut.tables:
        if table.cells.height == 0:
            found = _empty(table, layouts, context, digest, beside)
            batches += found
            beside = [] if found else beside
            continue
        if len(cut.tables) > 1 and says_nothing(table, context.words):
            passed.append(f"{table.file}: no time and no quantity stands in it; it was not read")
            continue
        layout = proved_layout(table, layouts, layout_name, context)
        bad = contradicted_rows(table, layout, context)
        taken = read_table(without_rows(table, bad), layout, context, bad_lines=[*beside, *bad])
        beside = []
        check_sources_stated(taken, layout, table.file, context)
        batches.append(batch_of(taken, table.file, layout, context, digest))
        named.append(named_table(table, batches[-1], context))
    check_told(member.name, cut.bad, batches)
    if batches:
        batches[0] = replace(batches[0], remarks=(*batches[0].remarks, *passed))
    return batches


def _empty(
    table: TextTable,
    layouts: tuple[Layout, ...],
    context: ReadContext,
    digest: str,
    beside: list[tuple[int, str, str]],
) -> list[Batch]:
    """A known header with nothing below it is an export of nothing: no rows, and nothing wrong but the lines beside."""
    known = [layout for layout in layouts if fits(table, layout, context.words)]
    if len(known) != 1:
        return []
    return [batch_of(read_table(table, known[0], context, bad_lines=beside), table.file, known[0], context, digest)]


def _meant_as_note(
    text: str, layout_name: str | None, note: Layout, layouts: tuple[Layout, ...], context: ReadContext
) -> bool:
    """Named as a note, or in the form of one and under no header that a table layout knows."""
    if layout_name is not None:
        return layout_name == note.name
    return is_note(text) and not under_known_header(text, layouts, context.words)


def _with_own_hash(batch: Batch, at: int, count: int) -> Batch:
    """Several tables of one file are several contents: each gets a hash of its own."""
    if count == 1:
        return batch
    return replace(batch, content_hash=hashlib.sha256(f"{batch.content_hash} table {at + 1}".encode()).hexdigest())


def _day_in(name: str) -> date | None:
    """The day that a file's name holds."""
    found = _DAY_IN_NAME.search(name)
    if found is None:
        return None
    try:
        return date(int(found[1]), int(found[2]), int(found[3]))
    except ValueError:
        return None
