"""The tables of one member of a file: workbook sheet, JSON, or delimited text."""

from dataclasses import dataclass, field

from gramrise.connectors.layout import Layout
from gramrise.intake.context import ReadContext
from gramrise.intake.files.delimited import DELIMITERS, Record, check_line_lengths, records
from gramrise.intake.files.json_tables import json_tables, looks_like_json
from gramrise.intake.files.table_bounds import TableRecords, delimiter_of, header_test, split_tables
from gramrise.intake.files.text_table import LineText, TextTable, cells_of
from gramrise.intake.files.unpacking import FileMember
from gramrise.intake.words import header_key

HEAD_LINES = 400


@dataclass(frozen=True, slots=True)
class FileTables:
    """The tables of a member, and lines that belong to none of them: (row, text)."""

    tables: list[TextTable]
    bad: list[tuple[int, str]] = field(default_factory=list)


def tables_of(
    member: FileMember, layouts: tuple[Layout, ...], context: ReadContext, layout_name: str | None
) -> FileTables:
    """Every table found in a member, in order."""
    if member.rows is not None:
        test = header_test(tuple(layout.recognised_by.header for layout in layouts), context.words)
        cut = [Record(row, cells) for row, cells in enumerate(member.rows, 1)]
        return FileTables(
            [_table(member.name, segment, cut, None, ";", at) for at, segment in enumerate(split_tables(cut, test), 1)]
        )
    assert member.text is not None  # a member is one or the other
    if looks_like_json(member.text):  # a program writes it on one line as often as not; the file's size bounds it
        found = json_tables(member.text, member.name, context.settings)
        return FileTables([one.table for one in found], [line for one in found for line in one.bad])
    check_line_lengths(member.text, member.name, context.settings)
    return FileTables(tables_of_text(member.text, member.name, layouts, context, layout_name))


def tables_of_text(
    text: str, name: str, layouts: tuple[Layout, ...], context: ReadContext, layout_name: str | None
) -> list[TextTable]:
    """The tables of a delimited text."""
    test = header_test(tuple(layout.recognised_by.header for layout in layouts), context.words)
    named = next((layout for layout in layouts if layout.name == layout_name), None)
    lines = text.split("\n")
    delimiter = str(named.file.delimiter) if named is not None else "auto"
    if delimiter == "auto":
        head = "\n".join(lines[:HEAD_LINES])
        delimiter, entries = delimiter_of(lines[:HEAD_LINES], lambda mark: records(head, mark, name, context.settings))
        if not entries:  # times of no usual form: a header that a layout knows tells
            known = (mark for mark in DELIMITERS if any(map(test, records(head, mark, name, context.settings))))
            delimiter = next(known, delimiter)
    cut = records(text, delimiter, name, context.settings)
    return [_table(name, segment, cut, lines, delimiter, at) for at, segment in enumerate(split_tables(cut, test), 1)]


def _table(
    name: str, segment: TableRecords, cut: list[Record], lines: list[str] | None, delimiter: str, at: int
) -> TextTable:
    rows = [(record.row, record.cells) for record in segment.entries if not record.blank]
    header = _joined(segment.headers)
    preamble = tuple(" ".join(record.filled) for record in segment.preamble)
    top = segment.headers[-1].row if segment.headers else None
    typed = lines is None
    if lines is None:  # a sheet: its rows have no text of their own
        lines = [delimiter.join(record.cells).rstrip(delimiter) for record in cut]
    text_of = LineText(lines, [record.row for record in cut])
    return TextTable(name, header, preamble, cells_of(rows), delimiter, top, text_of, at, typed=typed)


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
