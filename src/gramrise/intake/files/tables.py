"""The tables of one member of a file: workbook sheet, JSON, or delimited text."""

from collections.abc import Callable
from dataclasses import dataclass, field

from gramrise.connectors.layout import Layout
from gramrise.intake.context import ReadContext
from gramrise.intake.files.delimited import DELIMITERS, Record, check_line_lengths, records
from gramrise.intake.files.json_tables import json_tables, looks_like_json
from gramrise.intake.files.line_account import beside, check_lines
from gramrise.intake.files.table_bounds import TableRecords, delimiter_of, header_test, split_tables
from gramrise.intake.files.text_table import LineText, TextTable, cells_of, check_count_of_tables
from gramrise.intake.files.unpacking import FileMember
from gramrise.intake.words import HeaderWords, folded, header_key

HEAD_LINES = 400
_NO_COLUMN = ("filler", "about", "doubtful", "not_itself")  # words that do not say what a column holds


@dataclass(frozen=True, slots=True)
class FileTables:
    """The tables of a member, and lines that no table could take: (row, code, text)."""

    tables: list[TextTable]
    bad: list[tuple[int, str, str]] = field(default_factory=list)


def tables_of(
    member: FileMember, layouts: tuple[Layout, ...], context: ReadContext, layout_name: str | None
) -> FileTables:
    """Every table found in a member, in order."""
    if member.rows is not None:
        test = header_test(tuple(layout.recognised_by.header for layout in layouts), context.words)
        cut = [Record(row, cells) for row, cells in enumerate(member.rows, 1)]
        return _tables(member.name, cut, None, ";", test, context)
    assert member.text is not None  # a member is one or the other
    if looks_like_json(member.text):  # a program writes it on one line as often as not; the file's size bounds it
        found = json_tables(member.text, member.name, context.settings)
        check_count_of_tables(len(found), member.name, context.settings)
        bad = [(row, "not_an_object", text) for one in found for row, text in one.bad]
        return FileTables([one.table for one in found], bad)
    check_line_lengths(member.text, member.name, context.settings)
    return tables_of_text(member.text, member.name, layouts, context, layout_name)


def tables_of_text(
    text: str, name: str, layouts: tuple[Layout, ...], context: ReadContext, layout_name: str | None
) -> FileTables:
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
    return _tables(name, cut, lines, delimiter, test, context)


def _tables(
    name: str,
    cut: list[Record],
    lines: list[str] | None,
    delimiter: str,
    test: Callable[[Record], bool],
    context: ReadContext,
) -> FileTables:
    """The tables among the records of a text, or of a sheet (whose rows have no lines of their own)."""
    segments = split_tables(cut, test)
    check_count_of_tables(len(segments), name, context.settings)
    typed = lines is None
    if lines is None:
        text_of = LineText([delimiter.join(one.cells).rstrip(delimiter) for one in cut], [one.row for one in cut])
    else:
        text_of = LineText(lines, [record.row for record in cut])
        check_lines(name, lines, cut, segments, delimiter)
    bad = [(record.row, "quotes_broken", record.broken) for record in cut if record.broken]
    tables = [_table(name, segment, delimiter, text_of, at, typed) for at, segment in enumerate(segments, 1)]
    return FileTables(tables, bad + [(one.row, "in_no_table", text_of(one.row)) for one in beside(cut, segments)])


def _table(name: str, segment: TableRecords, delimiter: str, text_of: LineText, at: int, typed: bool) -> TextTable:
    rows = [(record.row, record.cells) for record in segment.entries if not record.blank]
    header = _joined(segment.headers)
    preamble = tuple(" ".join(record.filled) for record in segment.preamble)
    top = segment.headers[-1].row if segment.headers else None
    return TextTable(name, header, preamble, cells_of(rows, len(header)), delimiter, top, text_of, at, typed=typed)


def _joined(headers: tuple[Record, ...]) -> tuple[str, ...]:
    """Header cells; where two rows stand above one another, each pair as one text."""
    if not headers:
        return ()
    width = max(len(record.cells) for record in headers)
    padded = [(*record.cells, *[""] * (width - len(record.cells))) for record in headers]
    return tuple(" ".join(cell.strip() for cell in column if cell.strip()) for column in zip(*padded, strict=True))


def under_known_header(text: str, layouts: tuple[Layout, ...], words: HeaderWords) -> bool:
    """Whether a line near the top is the header of a table layout at hand, or the first line one by its words."""
    if _is_header_by_words(text.strip().split("\n", 1)[0], words):
        return True
    wanted = [{header_key(cell) for cell in layout.recognised_by.header} for layout in layouts]
    for line in text.split("\n")[:HEAD_LINES]:
        for delimiter in DELIMITERS:
            keys = {header_key(cell) for cell in line.split(delimiter)}
            if any(cells and cells <= keys for cells in wanted):
                return True
    return False


def _is_header_by_words(line: str, words: HeaderWords) -> bool:
    """Whether each cell of a line has a word for what a column holds, and one of them a word for time."""
    kinds = words.columns
    timely = {folded(word) for kind in ("when", "date", "time_of_day") for word in kinds[kind]}
    known = {folded(word) for kind in kinds if kind not in _NO_COLUMN for word in kinds[kind]}
    if any(mark.isdigit() for mark in line):
        return False
    for delimiter in DELIMITERS:
        cells = [set(header_key(cell).split()) for cell in line.split(delimiter) if cell.strip()]
        if len(cells) > 1 and all(cell & known for cell in cells) and any(cell & timely for cell in cells):
            return True
    return False
