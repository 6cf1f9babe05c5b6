"""A large plain table in blocks: cut by polars where that proves the line numbers, else by the careful cutter."""

import io
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import polars as pl

from gramrise.connectors.layout import Layout
from gramrise.domain.printable import printable
from gramrise.intake.context import ReadContext
from gramrise.intake.files.delimited import check_empty_lines, records
from gramrise.intake.files.encodings import encoding_of
from gramrise.intake.files.line_account import check_lines
from gramrise.intake.files.table_bounds import TableRecords
from gramrise.intake.files.tables import tables_of_text
from gramrise.intake.files.text_table import LINES_ABOVE, ROW, BlockText, TextTable, cells_of
from gramrise.intake.problems import FileRefused, FileWaits
from gramrise.intake.settings import IntakeSettings

HEAD_BYTES = 65_536
_PACKED = (b"\x1f\x8b", b"PK\x03\x04", b"\xd0\xcf\x11\xe0")


class NotOnePlainTable(Exception):
    """The file is not one table of plain UTF-8 text; `waits` is what to say where it is too large to be held whole."""

    def __init__(self, file: str) -> None:
        self.waits = FileWaits(
            "not_one_table",
            file,
            "it is too large to be read whole, and not one plain table in UTF-8",
            "cut it into one file a table",
        )
        super().__init__(file)


def is_large(path: Path, settings: IntakeSettings) -> bool:
    """Whether a file is worth reading in blocks. Raises FileRefused beyond the bound of all files."""
    size = path.stat().st_size
    if size > settings.most_file_bytes:
        raise FileRefused("file_too_large", printable(path.name), f"it has {size} bytes", "cut it into smaller files")
    return size > settings.careful_bytes


def head_table(path: Path, layouts: tuple[Layout, ...], context: ReadContext, layout_name: str | None) -> TextTable:
    """The first rows of a large table. Raises NotOnePlainTable."""
    return _one_table(printable(path.name), _head(path), layouts, context, layout_name)


def _head(path: Path) -> bytes:
    with path.open("rb") as opened:
        head = opened.read(HEAD_BYTES)
    return head[: head.rfind(b"\n") + 1]


def _one_table(
    name: str, head: bytes, layouts: tuple[Layout, ...], context: ReadContext, layout_name: str | None
) -> TextTable:
    """The table that begins in the head, if it is the only one there."""
    plain = encoding_of(head)[0] in {"utf-8", "utf-8-sig"} and b"\x00" not in head
    if (
        head.startswith(_PACKED)
        or not plain
        or head.lstrip()[:1] in {b"{", b"["}
        or b"\r" in head.replace(b"\r\n", b"")
    ):
        raise NotOnePlainTable(name)
    text = head.decode("utf-8-sig").replace("\r\n", "\n")
    tables = tables_of_text(text, name, layouts, context, layout_name).tables
    if len(tables) != 1 or (tables[0].header_row is None and tables[0].preamble):
        raise NotOnePlainTable(name)
    return tables[0]


@dataclass(frozen=True, slots=True)
class Block:
    """A part of a large table, its bytes, and its lines that could not be cut: (row, code, text)."""

    table: TextTable
    data: bytes
    bad: list[tuple[int, str, str]]


def blocks_of(path: Path, first: TextTable, settings: IntakeSettings) -> Iterator[Block]:
    """The table that begins with `first`, block by block."""
    above: list[str] = []
    blocks = _byte_blocks(path, first.header_row or 0, settings)
    for data, row, lines, is_last in blocks:
        block = _block_of(data, row, lines, first, settings)
        yield replace(block, table=replace(block.table, above=tuple(above), goes_on=not is_last))
        above = [*above, *_last_lines(data, first.delimiter)][-LINES_ABOVE:]


def _last_lines(data: bytes, delimiter: str) -> list[str]:
    """The last filled lines of a block, as text."""
    tail = data[-(HEAD_BYTES * 4) :]
    lines = (tail if len(tail) == len(data) else tail[tail.find(b"\n") + 1 :]).decode("utf-8", "replace").split("\n")
    return [line.strip("\r") for line in lines if line.replace(delimiter, "").strip()][-LINES_ABOVE:]


def _byte_blocks(path: Path, skipped_lines: int, settings: IntakeSettings) -> Iterator[tuple[bytes, int, int, bool]]:
    """Whole lines after the first `skipped_lines`, the first one's line number, their count, and whether they are last.

    No quoted text is cut.
    """
    row = skipped_lines + 1
    with path.open("rb") as opened:
        for _ in range(skipped_lines):
            opened.readline(settings.most_line_characters)
        rest = b""
        while block := opened.read(settings.block_bytes):
            data = rest + block
            cut = _cut(data, settings.most_line_characters)
            if cut == 0 and len(data) > settings.most_line_characters:
                raise FileRefused(
                    "line_too_long", printable(path.name), f"row {row} has no end", "it is probably no table"
                )
            rest = data[cut:]
            if cut:
                lines = data.count(b"\n", 0, cut)
                check_empty_lines(lines, cut, printable(path.name))
                yield data[:cut], row, lines, not rest.strip() and not opened.peek(1)
                row += lines
        if rest.strip():
            yield rest, row, rest.count(b"\n") + (not rest.endswith(b"\n")), True


def _cut(data: bytes, most_record: int) -> int:
    """The end of the last whole line that is not inside quotes; of the last line where no record could be so long."""
    last = at = data.rfind(b"\n") + 1
    if b'"' not in data:
        return at
    while at and data.count(b'"', 0, at) % 2:
        at = data.rfind(b"\n", 0, max(data.rfind(b'"', 0, at), 0)) + 1
    return at if last - at <= most_record else last


def _block_of(data: bytes, row: int, lines: int, first: TextTable, settings: IntakeSettings) -> Block:
    """A block as a table like the first one."""
    cells, bad = _fast_cells(data, row, lines, first), []
    if cells is None:
        try:
            text = data.decode("utf-8-sig").replace("\r\n", "\n")
        except UnicodeDecodeError as problem:
            raise NotOnePlainTable(first.file) from problem
        cut = records(text, first.delimiter, first.file, settings)
        entries = [record for record in cut if not record.blank]
        check_lines(first.file, text.split("\n"), cut, [TableRecords((), (), tuple(entries))], first.delimiter)
        cells = cells_of([(record.row + row - 1, record.cells) for record in entries])
        bad = [(record.row + row - 1, "quotes_broken", record.broken) for record in cut if record.broken]
        missing = [pl.lit("").alias(str(at)) for at in range(cells.width - 1, first.width)]
        cells = cells.with_columns(missing)
    return Block(replace(first, cells=cells, preamble=first.preamble, text_of=BlockText(data, row)), data, bad)


def _fast_cells(data: bytes, row: int, lines: int, first: TextTable) -> pl.DataFrame | None:
    """Cells cut by polars; None where ragged rows or quoted line breaks leave the line numbers unproved."""
    try:
        cells = pl.read_csv(
            io.BytesIO(data),
            has_header=False,
            separator=first.delimiter,
            quote_char='"' if b'"' in data else None,
            schema={str(at): pl.String for at in range(first.width)},
            row_index_name=ROW,
            row_index_offset=row,
        )
    except (pl.exceptions.ComputeError, pl.exceptions.SchemaError, pl.exceptions.NoDataError):
        return None
    return cells.with_columns(pl.col(ROW).cast(pl.Int64)) if cells.height == lines else None
