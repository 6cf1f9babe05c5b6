"""Lines that a line break within a row left behind: the rest of the row above them, or the begin of the one below."""

import csv
import re
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import polars as pl

from gramrise.connectors.layout import GlucoseGiven, Layout
from gramrise.intake.context import ReadContext
from gramrise.intake.files import ROW, LineText, TextTable, looks_number, looks_timed
from gramrise.intake.layouts import columns_with_values
from gramrise.intake.problems import FileWaits
from gramrise.intake.rows.other_persons import denies_its_row
from gramrise.intake.words import folded

_CODE: Final = "line_broken"
_FIGURES: Final = re.compile(r"[<>≤≥~]?\s{0,3}[+-]?[.,]?\d")
_DAY_OR_CLOCK: Final = re.compile(r"\d{1,4}[-/.:]\d{1,2}[-/.: ]\d|\d{1,2}[:h]\d{2}")
_LONGEST_NUMBER: Final = 8  # our choice: a longer one is an instant, not the rest of a value
_FEW_WORDS: Final = 2  # our choice: so few small words may be the end of an amount, more of them are a remark
_AROUND: Final = 200  # rows whose first cells are compared with a joined one; our choice
_UNITS: Final = ("piece", "ml", "gram", "bottle", "vessel")


@dataclass(frozen=True, slots=True)
class _Line:
    """A line of a table: its number, its text, and its cells as they are written, none filled up."""

    row: int
    text: str
    cells: tuple[str, ...]

    @property
    def first(self) -> str:
        return self.cells[0]

    @property
    def last(self) -> str:
        return self.cells[-1]

    @property
    def lone(self) -> bool:
        return sum(1 for cell in self.cells if cell) == 1


class BrokenLines:
    """Finds, in one table, the lines that are no rows and the rows whose cells they may have been part of.

    A row without a time cannot be told from the rest of the row above it, which was cut within its last cell: '21' and
    below it '5' were 215. Where nothing says that the row above is whole, both are set aside; likewise the row below a
    lone cell that would fill up its first one.
    """

    def __init__(self, table: TextTable, layout: Layout, context: ReadContext) -> None:
        self.table, self.context = table, context
        assert layout.clock is not None  # a layout of tables has one
        self.clock = {int(at) for name in layout.clock.columns if (at := table.column(name)) is not None}
        values = [int(at) for name in columns_with_values(layout) if (at := table.column(name)) is not None]
        self.last_value = max([*values, *self.clock], default=0)
        self.first_is_read = 0 in self.clock or 0 in values
        self.of_amounts = any(isinstance(part, GlucoseGiven) for part in layout.brings)
        self.steps = 1  # lines from one row to the next

    def found(self, frame: pl.DataFrame, cut_off: list[int]) -> list[tuple[int, str, str]]:
        """(row, code, text) of the lines that are set aside. Raises FileWaits where one is at the begin of a block.

        frame    the table's rows, with `no_time` of `read_times`
        cut_off  rows below them that were set aside as they end too soon
        """
        if self.table.typed or not self.table.delimiter or self.table.width < 2:
            return []
        self._check_begin(frame)
        untimed = (frame["no_time"] != "").arg_true().head(self.context.settings.most_troubles_named).to_list()
        untimed += range(frame.height, frame.height + len(cut_off))
        if not untimed:
            return []
        rows = frame[ROW].to_list() + cut_off
        self.steps = min((below - above for above, below in pairwise(rows)), default=1)
        broken: dict[int, tuple[int, str, str]] = {}
        without_time = set(untimed)
        for at in untimed:
            line = self._line(rows[at])
            above = self._above(rows, at, without_time)
            if above is not None and self._may_be_rest(line, above):
                broken |= {one.row: (one.row, _CODE, one.text[-80:]) for one in (above, line)}
            below = self._line(rows[at + 1]) if at + 1 < frame.height and at + 1 not in without_time else None
            if below is not None and self._may_begin(line, below, frame, at):
                broken |= {one.row: (one.row, _CODE, one.text[-80:]) for one in (line, below)}
        return [broken[row] for row in sorted(broken) if row not in cut_off]

    def _line(self, row: int) -> _Line:
        text = self.table.text_of(row)
        return _Line(row, text, self._cut(text))

    def _cut(self, text: str) -> tuple[str, ...]:
        try:
            cells = next(csv.reader([text], delimiter=self.table.delimiter), None) or [""]
        except csv.Error:
            cells = text.split(self.table.delimiter)
        return tuple(cell.strip() for cell in cells)

    def _above(self, rows: list[int], at: int, without_time: set[int]) -> _Line | None:
        """The row with a time that ends directly above a line; what lies between are other lines without one."""
        while at > 0 and self._adjoin(rows[at - 1], rows[at]):
            at -= 1
            if at not in without_time:
                return self._line(rows[at])
        return None

    def _adjoin(self, above: int, below: int) -> bool:
        """Whether no blank line stands between two rows, but for files that have one below each row."""
        if below - above <= self.steps:
            return True
        text = self.table.text_of
        return isinstance(text, LineText) and below - above <= text(above).count("\n") + 1

    # -- the rest of the row above ------------------------------------------------------------------------------------

    def _may_be_rest(self, line: _Line, above: _Line) -> bool:
        """Whether a line without a time may be the end of the row above, cut within or before a cell that is read."""
        if not line.first or self._is_row(line, above):
            return False
        together, width = len(above.cells) + len(line.cells) - 1, max(len(self.table.header), self.table.width)
        if together > width and not line.lone:
            return False  # both have too many cells to be one row
        joined = together == width and len(above.cells) < width
        ends = len(above.cells) - 1
        if ends > self.last_value and not above.last:
            return self._denies(line)  # it ends behind all that is read, so that nothing of it can be missing
        if ends >= self.last_value and (above.text.rstrip().endswith('"') or self._ends_in_whole_time(line, above)):
            return self._denies(line)
        if _FIGURES.match(line.first):
            return True
        return joined or self._denies(line) or self._words_go_on(line, above)

    def _is_row(self, line: _Line, above: _Line) -> bool:
        """Whether a line has the cells of a row, so that its time alone is what is wrong with it."""
        if looks_timed(line.first) or _DAY_OR_CLOCK.match(line.first):
            return True
        if len(line.cells) != len(above.cells) or len(line.cells) <= self.last_value:
            return False
        number = looks_number(line.first) and len(line.first) <= _LONGEST_NUMBER
        return 0 not in self.clock or (bool(line.cells[self.last_value]) and not number)

    def _ends_in_whole_time(self, line: _Line, above: _Line) -> bool:
        """Whether a row ends in a time that with the line below it would be none."""
        ends_in_time = len(above.cells) - 1 in self.clock and looks_timed(above.last)
        return ends_in_time and not looks_timed(above.last + line.first)

    def _denies(self, line: _Line) -> bool:
        return denies_its_row(line.text, self.context, given=self.of_amounts)

    def _words_go_on(self, line: _Line, above: _Line) -> bool:
        """Whether words may be the rest of a cell: 'ieces' below '3 p'; 'mL' or 'small ones' below an amount."""
        if not above.last or len(above.cells) - 1 > self.last_value:
            return False
        small = line.first[:1].islower()
        if above.last[-1].isalpha() and small:
            return True
        words = [folded(word) for word in line.first.split()]
        unit = bool(words) and any(words[0].rstrip(".") in self.context.words.listed("amounts", key) for key in _UNITS)
        return self.of_amounts and (unit or (small and len(words) <= _FEW_WORDS))

    # -- the begin of the row below -----------------------------------------------------------------------------------

    def _may_begin(self, line: _Line, below: _Line, frame: pl.DataFrame, at: int) -> bool:
        """Whether a lone cell may be the begin of the first cell of the row below it: '1' above '2.4,...' was 12.4."""
        if not self.first_is_read or len(line.cells) != 1 or not below.first or not self._adjoin(line.row, below.row):
            return False
        firsts = frame["0"].slice(max(at - _AROUND // 2, 0), _AROUND).drop_nulls().to_list()
        return _form(line.first + below.first) in {_form(first.strip()) for first in firsts if first.strip()}

    # -- the first line of a later block ------------------------------------------------------------------------------

    def _check_begin(self, frame: pl.DataFrame) -> None:
        """Raises FileWaits where a break lies between two blocks: the row of the block before has been handed on."""
        if not self.table.above or not frame.height:
            return
        line = self._line(int(frame[ROW][0]))
        above = _Line(line.row - 1, self.table.above[-1], self._cut(self.table.above[-1]))
        untimed = frame["no_time"][0] != ""
        timed_above = any(looks_timed(above.cells[at]) for at in self.clock if at < len(above.cells))
        rest = untimed and timed_above and self._may_be_rest(line, above)
        begun = not untimed and not timed_above and self._may_begin(above, line, frame, 0)
        if rest or begun:
            raise FileWaits(
                _CODE,
                self.table.file,
                f"rows {above.row} and {line.row} may be one row with a line break in it",
                "write each row on one line",
            )


def _form(cell: str) -> str:
    return re.sub(r"\d", "9", cell)
