"""The tables of one part of a file, cut with care."""

from dataclasses import dataclass, field

from gramrise.connectors.layout import Layout
from gramrise.intake.circumstances import Circumstances
from gramrise.intake.cutting import DELIMITERS, Record, check_line_lengths, records
from gramrise.intake.json_tables import json_tables, looks_like_json
from gramrise.intake.parts import Part
from gramrise.intake.segments import Segment, delimiter_of, header_test, segments
from gramrise.intake.table import LineText, Table, cells_of
from gramrise.intake.words import header_key

HEAD_LINES = 400


@dataclass(frozen=True, slots=True)
class Tables:
    """The tables of a part, and lines that belong to none of them: (row, text)."""

    tables: list[Table]
    bad: list[tuple[int, str]] = field(default_factory=list)


def tables_of(part: Part, layouts: tuple[Layout, ...], around: Circumstances, layout_name: str | None) -> Tables:
    """Every table found in a part, in order."""
    if part.rows is not None:
        test = header_test(tuple(layout.recognised_by.header for layout in layouts), around.words)
        cut = [Record(row, cells) for row, cells in enumerate(part.rows, 1)]
        return Tables(
            [_table(part.name, segment, cut, None, ";", at) for at, segment in enumerate(segments(cut, test), 1)]
        )
    assert part.text is not None  # a part is one or the other
    if looks_like_json(part.text):  # a program writes it on one line as often as not; the file's size bounds it
        found = json_tables(part.text, part.name, around.settings)
        return Tables([one.table for one in found], [line for one in found for line in one.bad])
    check_line_lengths(part.text, part.name, around.settings)
    return Tables(tables_of_text(part.text, part.name, layouts, around, layout_name))


def tables_of_text(
    text: str, name: str, layouts: tuple[Layout, ...], around: Circumstances, layout_name: str | None
) -> list[Table]:
    """The tables of a delimited text."""
    test = header_test(tuple(layout.recognised_by.header for layout in layouts), around.words)
    named = next((layout for layout in layouts if layout.name == layout_name), None)
    lines = text.split("\n")
    delimiter = str(named.file.delimiter) if named is not None else "auto"
    if delimiter == "auto":
        head = "\n".join(lines[:HEAD_LINES])
        delimiter, entries = delimiter_of(lines[:HEAD_LINES], lambda mark: records(head, mark, name, around.settings))
        if not entries:  # times of no usual form: a header that a layout knows tells
            known = (mark for mark in DELIMITERS if any(map(test, records(head, mark, name, around.settings))))
            delimiter = next(known, delimiter)
    cut = records(text, delimiter, name, around.settings)
    return [_table(name, segment, cut, lines, delimiter, at) for at, segment in enumerate(segments(cut, test), 1)]


def _table(name: str, segment: Segment, cut: list[Record], lines: list[str] | None, delimiter: str, at: int) -> Table:
    rows = [(record.row, record.cells) for record in segment.entries if not record.blank]
    header = _joined(segment.headers)
    preamble = tuple(" ".join(record.filled) for record in segment.preamble)
    top = segment.headers[-1].row if segment.headers else None
    typed = lines is None
    if lines is None:  # a sheet: its rows have no text of their own
        lines = [delimiter.join(record.cells).rstrip(delimiter) for record in cut]
    text_of = LineText(lines, [record.row for record in cut])
    return Table(name, header, preamble, cells_of(rows), delimiter, top, text_of, at, typed=typed)


def _joined(headers: tuple[Record, ...]) -> tuple[str, ...]:
    """Header cells; where two rows stand above one another, each pair as one text."""
    if not headers:
        return ()
    width = max(len(record.cells) for record in headers)
    padded = [(*record.cells, *[""] * (width - len(record.cells))) for record in headers]
    return tuple(" ".join(cell.strip() for cell in column if cell.strip()) for column in zip(*padded, strict=True))


def under_known_header(text: str, layouts: tuple[Layout, ...]) -> bool:
    """Whether a line near the top is the header of a table layout at hand."""
    wanted = [{header_key(cell) for cell in layout.recognised_by.header} for layout in layouts]
    for line in text.split("\n")[:HEAD_LINES]:
        for delimiter in DELIMITERS:
            keys = {header_key(cell) for cell in line.split(delimiter)}
            if any(cells and cells <= keys for cells in wanted):
                return True
    return False
