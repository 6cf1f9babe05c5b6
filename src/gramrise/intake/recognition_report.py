"""How a file is recognised: for each table the layout, the evidence for each conclusion, and what stays open."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from gramrise.connectors.layout import Layout
from gramrise.connectors.shelf import load_layouts
from gramrise.domain.person import Person
from gramrise.domain.printable import printable
from gramrise.domain.problems import TO_MEND
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Conclusion, Evidence, OpenPoint
from gramrise.intake.files import (
    FileMember,
    NotOnePlainTable,
    TextTable,
    encoding_of,
    head_table,
    is_large,
    needs_own_process,
    tables_of,
    under_known_header,
    unpack,
)
from gramrise.intake.layouts import draft_of, recognise_layout
from gramrise.intake.problems import FileWaits
from gramrise.intake.reading_process import reading_process
from gramrise.intake.rows import is_note
from gramrise.intake.settings import IntakeSettings, shipped_settings
from gramrise.intake.standards import seen_in_member, standard_of
from gramrise.intake.words import HeaderWords, shipped_words

PASSED = "passed over"


@dataclass(frozen=True, slots=True)
class RecognisedTable:
    """One table of a file. `draft` is its layout in TOML, to be kept or completed; '' where a shipped layout fits."""

    name: str
    layout: str
    proved: tuple[Conclusion, ...]
    open: tuple[OpenPoint, ...]
    draft: str


@dataclass(frozen=True, slots=True)
class Recognition:
    """Everything seen in one file."""

    file: str
    tables: tuple[RecognisedTable, ...] = ()
    nothing: str = field(default="no table and no entry was found in it")

    @property
    def certain(self) -> bool:
        """Whether the file can be read without another word."""
        return bool(self.tables) and not any(table.open for table in self.tables)

    @property
    def text(self) -> str:
        """As `in_words`, in English."""
        return self.in_words(str)

    def in_words(self, spoken: Callable[[str], str]) -> str:
        """For people: evidence, open points with the line to add, and a draft where no layout at hand fits.

        spoken  says a sentence of ours in a person's language
        """
        if not self.tables:
            return spoken(f"{self.file}: {self.nothing}.")
        return "\n\n".join(_in_words(table, spoken) for table in self.tables)


def recognise(
    path: Path,
    person: Person,
    *,
    now_utc: datetime,
    settings: IntakeSettings | None = None,
    layouts: tuple[Layout, ...] | None = None,
    layout_name: str | None = None,
    words: HeaderWords | None = None,
) -> Recognition:
    """How a file would be read, without taking anything in. Raises FileRefused as `read_file` does."""
    kept = settings or shipped_settings()
    context = ReadContext(person, kept, words or shipped_words(), now_utc)
    at_hand = layouts if layouts is not None else load_layouts(None)
    large = is_large(path, kept)
    if large and not needs_own_process(path):
        try:
            head = head_table(path, at_hand, context, None)
            return Recognition(printable(path.name), (_recognised(head, at_hand, layout_name, context),))
        except NotOnePlainTable:
            pass
    if large or needs_own_process(path):
        recognition: Recognition = reading_process.ask(
            "recognise", (path, context, at_hand, layout_name), printable(path.name), kept
        )
        return recognition
    return recognise_in_this_process(path, context, at_hand, layout_name)


def recognise_in_this_process(
    path: Path, context: ReadContext, layouts: tuple[Layout, ...], layout_name: str | None
) -> Recognition:
    """As `recognise`, held whole, whatever the file may cost this process."""
    tables: list[RecognisedTable] = []
    for member in unpack(path, context.settings):
        tables += _recognised_in(member, layouts, layout_name, context)
    return Recognition(printable(path.name), tuple(tables))


def _recognised_in(
    member: FileMember, layouts: tuple[Layout, ...], layout_name: str | None, context: ReadContext
) -> list[RecognisedTable]:
    if member.passed_over:
        return [RecognisedTable(member.name, PASSED, (Conclusion("it is passed over", member.passed_over),), (), "")]
    if member.text is not None and layout_name is None and _a_note(member.text, layouts, context):
        return [
            RecognisedTable(
                member.name, "text-note", (Conclusion("it is a text note", "its lines begin with a time"),), (), ""
            )
        ]
    standard = standard_of(member.text, layout_name) if member.text is not None else None
    if standard is not None:
        about = [Conclusion(*told) for told in seen_in_member(member, standard)]
        return [RecognisedTable(member.name, standard.name, tuple(about), (), "")]
    try:
        tables = tables_of(member, layouts, context, layout_name).tables
    except FileWaits as waits:
        return [RecognisedTable(member.name, "", (), (_open(waits),), waits.draft)]
    conclusions = [Conclusion(*about) for about in _about_bytes(member)]
    return [_recognised(table, layouts, layout_name, context, conclusions) for table in tables if table.cells.height]


def _a_note(text: str, layouts: tuple[Layout, ...], context: ReadContext) -> bool:
    return is_note(text) and not under_known_header(text, layouts, context.words)


def _about_bytes(member: FileMember) -> list[tuple[str, str]]:
    if member.rows is not None:
        return [("it is a sheet", "the file is a workbook")]
    encoding, why = encoding_of(member.data)
    return [(f"its letters are {encoding}", why)]


def _recognised(
    table: TextTable,
    layouts: tuple[Layout, ...],
    layout_name: str | None,
    context: ReadContext,
    conclusions: list[Conclusion] | None = None,
) -> RecognisedTable:
    evidence = Evidence(list(conclusions or []))
    if table.delimiter and not table.typed:
        evidence.prove(
            f"cells are parted by {_NAMES[table.delimiter]}", "so cut, most lines hold a time and something else"
        )
    if table.header:
        row, above = table.header_row, len(table.preamble)
        evidence.prove(
            f"row {row} is the header, lines above it: {above}" if above else f"row {row} is the header",
            "words stand there, and entries follow",
        )
    try:
        layout = recognise_layout(table, layouts, layout_name, context, evidence)
    except FileWaits as waits:
        return RecognisedTable(table.file, "", tuple(evidence.proved), (_open(waits),), waits.draft)
    shipped = any(layout.name == known.name for known in layouts)
    return RecognisedTable(
        table.file, layout.name, tuple(evidence.proved), tuple(evidence.open), "" if shipped else draft_of(layout)
    )


_NAMES = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars", " ": "blanks"}


def _open(waits: FileWaits) -> OpenPoint:
    return OpenPoint(waits.code, waits.what, waits.mend, waits.readings, waits.lines)


def _in_words(table: RecognisedTable, spoken: Callable[[str], str]) -> str:
    lines = [f"{table.name}: {_state(table, spoken)}"]
    lines += [f"  {spoken(conclusion.what)}: {spoken(conclusion.why)}" for conclusion in table.proved]
    for point in table.open:
        lines += _open_in_words(point, spoken)
    if table.draft:
        lines += ["", "  " + spoken("A layout for it, to keep in the folder layouts/ of the home:"), ""]
        lines += [f"  {line}".rstrip() for line in table.draft.splitlines()]
    return "\n".join(lines)


def _state(table: RecognisedTable, spoken: Callable[[str], str]) -> str:
    if table.layout == PASSED:
        return spoken("passed over")
    if table.open or not table.layout:
        return spoken("it waits")
    return spoken(f"read by layout '{table.layout}'")


def _open_in_words(point: OpenPoint, spoken: Callable[[str], str]) -> list[str]:
    """The question, then each way to read it with the lines of a layout that say so."""
    told = f"{point.what}. {TO_MEND}: {point.mend}."
    lines = [f"  {spoken('OPEN')}: {spoken(told)}"]
    either, other, add = spoken("either"), spoken("or"), spoken("add")
    wide = max(len(either), len(other))
    for at, reading in enumerate(point.readings):
        added = [spoken(line) for line in point.lines[at].split("\n")] if at < len(point.lines) else []
        alone = f"   {add}  {added[0]}" if len(added) == 1 else f"   {add}" if added else ""
        lines.append(f"    {either if at == 0 else other:<{wide}} {spoken(reading)}{alone}")
        lines += [f"             {line}" for line in added] if len(added) > 1 else []
    return lines
