"""One table as text: its cells as they stand in the file, and where each row stood."""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import zip_longest
from typing import Final

import polars as pl

from gramrise.intake.problems import FileRefused
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.words import header_key

ROW = "row"  # the file's own line number, as a text editor shows it, from 1
LINES_ABOVE: Final = 100  # so many lines above the last row of a table are looked at, in whichever block they stand


@dataclass(frozen=True, slots=True)
class TextTable:
    """Cells as text in columns '0', '1', ... beside `row` i64; null and '' are both an empty cell.

    `text_of` gives a row's text as the file had it.
    """

    file: str
    header: tuple[str, ...]  # () where the table has none
    preamble: tuple[str, ...]
    cells: pl.DataFrame
    delimiter: str = ""
    header_row: int | None = None
    text_of: Callable[[int], str] = field(default=lambda _row: "")
    part: int = 1  # 1, 2, ... among the tables of its file
    typed: bool = False  # cells came with a type (sheet, JSON): a number there has a decimal point
    above: tuple[str, ...] = ()  # the lines above a later block of a large table, as many as its end is held against
    goes_on: bool = False  # a block of a large table, and not its last

    @property
    def width(self) -> int:
        """How many columns its cells have."""
        return self.cells.width - 1

    @property
    def keys(self) -> tuple[str, ...]:
        """Its header cells as they are compared."""
        return tuple(header_key(cell) for cell in self.header)

    def column(self, name: str) -> str | None:
        """The frame's column for a header name, or for a number '#3' counted from 1. None where there is no such one.

        Among header cells that differ only in their bracketed part, the full text decides.
        """
        if name.startswith("#") and name[1:].isdigit():
            at = int(name[1:]) - 1
            return str(at) if at < self.width else None
        exact = [at for at, cell in enumerate(self.header) if cell.strip() == name.strip()]
        alike = exact or [at for at, key in enumerate(self.keys) if key and key == header_key(name)]
        return str(alike[0]) if alike and alike[0] < self.width else None

    def label(self, column: str) -> str:
        """What people call a frame's column: its header cell, or its number."""
        at = int(column)
        return self.header[at].strip() if at < len(self.header) and self.header[at].strip() else f"column {at + 1}"

    def with_cells(self, cells: pl.DataFrame) -> "TextTable":
        """The same table with other cells."""
        return replace(self, cells=cells)


def cells_of(rows: Sequence[tuple[int, Sequence[str]]], least_width: int = 0) -> pl.DataFrame:
    """Rows of text, each with its line number, as the frame of a TextTable; short rows are filled with ''."""
    columns = list(zip_longest(*(cells for _, cells in rows), fillvalue=""))
    columns += [("",) * len(rows)] * (least_width - len(columns))
    data: dict[str, pl.Series] = {ROW: pl.Series(ROW, [row for row, _ in rows], dtype=pl.Int64)}
    for at, column in enumerate(columns):
        data[str(at)] = pl.Series(str(at), column, dtype=pl.String)
    return pl.DataFrame(data)


def is_empty(cells: pl.Series) -> bool:
    """Whether no cell of a column of text holds a letter; seen without looking at each where that can be."""
    return cells.null_count() == cells.len() or not cells.str.len_bytes().max()


@dataclass(frozen=True, slots=True)
class LineText:
    """The text of a row, found by the line it begins on; a row with quoted line breaks runs to the next row's line."""

    lines: list[str]
    starts: list[int]

    def __call__(self, row: int) -> str:
        at = bisect_right(self.starts, row)
        end = self.starts[at] - 1 if at < len(self.starts) else row
        return "\n".join(self.lines[row - 1 : max(row, end)]).strip("\r\n")

    def ends_open(self, row: int) -> bool:
        """Whether it is the last line, and nothing ends it: a copy may have broken off within it."""
        return row == len(self.lines)


class BlockText:
    """As LineText for a block of a file's bytes. It is split into lines only when a row's text is asked for."""

    def __init__(self, data: bytes, first_row: int) -> None:
        self.data, self.first_row = data, first_row
        self.lines: LineText | None = None

    def _split(self) -> LineText:
        if self.lines is None:
            self.lines = LineText(self.data.decode("utf-8", "replace").split("\n"), [])
        return self.lines

    def __call__(self, row: int) -> str:
        return self._split()(row - self.first_row + 1)

    def ends_open(self, row: int) -> bool:
        """As of a LineText."""
        return self._split().ends_open(row - self.first_row + 1)


def check_count_of_tables(count: int, name: str, settings: IntakeSettings) -> None:
    """Raises FileRefused where a file has more tables than any export."""
    if count > settings.most_tables:
        raise FileRefused(
            "too_many_tables", name, f"it holds more than {settings.most_tables} tables", "cut it into smaller files"
        )
