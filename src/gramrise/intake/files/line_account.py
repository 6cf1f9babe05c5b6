"""Every line of a file is accounted for: a line that looks like a row is one, or was set aside."""

from collections import Counter
from collections.abc import Iterable

from gramrise.intake.files.delimited import Record, row_shape
from gramrise.intake.files.table_bounds import TableRecords
from gramrise.intake.problems import FileRefused


def check_lines(name: str, lines: list[str], cut: list[Record], segments: list[TableRecords], delimiter: str) -> None:
    """Raises FileRefused where a line looks like the rows of a table and stands in none of them.

    The lines are those of the file itself. Each is the begin of a row, a header, or was set aside; of what is left (the
    further lines of a quoted cell, what stands above a table) none may be written as the rows are.
    """
    entries = {record.row for segment in segments for record in segment.entries}
    if not entries:
        return
    told = entries | {record.row for record in cut if record.broken}
    told |= {record.row for segment in segments for record in segment.headers}
    told |= {record.row for record in beside(cut, segments)}
    rest = [row for row, line in enumerate(lines, 1) if row not in told and line.strip()]
    if not rest:
        return
    common = _common_shape((lines[row - 1] for row in sorted(entries)), delimiter)
    lost = [row for row in rest if common and row_shape(lines[row - 1], delimiter) == common]
    if lost:
        raise FileRefused(
            "rows_unaccounted",
            name,
            f"{len(lost)} of its lines look like rows of its table and are in none, the first of them row {lost[0]}",
            "look at the quotation marks above that row, and for a table begun anew",
        )


def _common_shape(lines: Iterable[str], delimiter: str) -> tuple[str, ...]:
    shapes = Counter(shape for line in lines if (shape := row_shape(line, delimiter)))
    return shapes.most_common(1)[0][0] if shapes else ()


def beside(cut: list[Record], segments: list[TableRecords]) -> list[Record]:
    """Records with figures that belong to no table, where a file has tables: they are set aside."""
    if not segments:
        return []
    last = max(record.row for segment in segments for record in (*segment.entries, *segment.headers, *segment.preamble))
    return [one for one in cut if one.row > last and any(mark.isdigit() for cell in one.cells for mark in cell)]
