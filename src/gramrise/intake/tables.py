"""The tables of one part of a file, cut with care."""

from gramrise.connectors.layout import Layout
from gramrise.intake.cutting import Record, records
from gramrise.intake.parts import Part
from gramrise.intake.rows import Circumstances
from gramrise.intake.segments import Segment, delimiter_of, header_test, segments
from gramrise.intake.table import LineText, Table, cells_of

HEAD_LINES = 400


def tables_of(part: Part, layouts: tuple[Layout, ...], around: Circumstances, layout_name: str | None) -> list[Table]:
    """Every table found in a part, in order."""
    assert part.text is not None  # sheets come with rows
    named = next((layout for layout in layouts if layout.name == layout_name), None)
    lines = part.text.split("\n")
    head = "\n".join(lines[:HEAD_LINES])
    delimiter = str(named.file.delimiter) if named is not None else "auto"
    if delimiter == "auto":
        delimiter = delimiter_of(lines[:HEAD_LINES], lambda mark: records(head, mark, part.name, around.settings))[0]
    cut = records(part.text, delimiter, part.name, around.settings)
    known = tuple(layout.recognised_by.header for layout in layouts)
    found = segments(cut, header_test(known, around.words))
    return [_table(part, segment, cut, lines, delimiter, at) for at, segment in enumerate(found, 1)]


def _table(part: Part, segment: Segment, cut: list[Record], lines: list[str], delimiter: str, at: int) -> Table:
    rows = [(record.row, record.cells) for record in segment.entries if not record.blank]
    header = _joined(segment.headers)
    preamble = tuple(" ".join(record.filled) for record in segment.preamble)
    starts = [record.row for record in cut]
    top = segment.headers[-1].row if segment.headers else None
    return Table(part.name, header, preamble, cells_of(rows), delimiter, top, LineText(lines, starts), at)


def _joined(headers: tuple[Record, ...]) -> tuple[str, ...]:
    """Header cells; where two rows stand above one another, each pair as one text."""
    if not headers:
        return ()
    width = max(len(record.cells) for record in headers)
    padded = [(*record.cells, *[""] * (width - len(record.cells))) for record in headers]
    return tuple(" ".join(cell.strip() for cell in column if cell.strip()) for column in zip(*padded, strict=True))
