"""Delimited text to records. Quoted line breaks, ragged rows and blank lines are kept; a record knows its line."""

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass

from gramrise.intake.files.cell_shapes import looks_timed
from gramrise.intake.problems import FileRefused
from gramrise.intake.settings import IntakeSettings

DELIMITERS = (";", "\t", ",", "|")
# Our choice: a table of so many lines has on average more characters in each than a time of day and a digit.
_MANY_LINES, _LEAST_ENTRY = 1_000_000, 6
_FIGURES = re.compile(r"\d+")
_SHAPED_CELLS = 40  # cells of a line in which its time is looked for; our choice: no table's time stands further right


@dataclass(frozen=True, slots=True)
class Record:
    row: int  # line it begins on, as an editor counts
    cells: tuple[str, ...]
    broken: str = ""  # the text of a line with a quotation mark that has no partner: such a line is set aside

    @property
    def filled(self) -> list[str]:
        """Its cells that hold something."""
        return [cell for cell in self.cells if cell.strip()]

    @property
    def blank(self) -> bool:
        """Whether no cell holds anything."""
        return not any(cell.strip() for cell in self.cells)


class _BrokenQuote(Exception):
    """A quoted cell runs into a line that begins a row of its own, or to the end of the text."""


def records(text: str, delimiter: str, file: str, settings: IntakeSettings) -> list[Record]:
    """All records of a text, blank ones too. Raises FileRefused for lines or rows beyond the bounds.

    A quoted cell may hold line breaks, but no line that begins a row. Where it would, the mark has no partner: its line
    alone is broken, and the lines below are cut anew.
    """
    check_line_lengths(text, file, settings)
    return list(_records(text, delimiter, file, settings))


def check_line_lengths(text: str, file: str, settings: IntakeSettings) -> None:
    """Raises FileRefused where a line is longer than any entry, or nearly all lines are empty."""
    check_empty_lines(text.count("\n"), len(text), file)
    longest = max(map(len, text.split("\n")), default=0)
    if longest > settings.most_line_characters:
        raise FileRefused(
            "line_too_long",
            file,
            f"a line is longer than {settings.most_line_characters} characters",
            "it is probably no table of entries: export it again as CSV",
        )


def check_empty_lines(lines_n: int, size: int, file: str) -> None:
    """Raises FileRefused where nearly no line can hold an entry, by the size in all: each line costs memory."""
    if lines_n > _MANY_LINES and size < lines_n * _LEAST_ENTRY:
        raise FileRefused(
            "empty_lines",
            file,
            f"nearly all of its {lines_n} lines are empty",
            "it is probably no table of entries: export it again as CSV",
        )


def _records(text: str, delimiter: str, file: str, settings: IntakeSettings) -> Iterator[Record]:
    csv.field_size_limit(settings.most_line_characters)
    lines = _Lines(text, delimiter)
    reader = csv.reader(lines, delimiter=delimiter)
    while True:
        begins = lines.begin_record()
        try:
            cells = next(reader, None)
        except (_BrokenQuote, csv.Error):
            yield Record(begins, (), lines.lines[begins - 1].rstrip("\n") or '"')
            lines.at = begins  # the line below it
            reader = csv.reader(lines, delimiter=delimiter)
            continue
        if cells is None:
            return
        if len(cells) > settings.most_columns:
            raise FileRefused(
                "too_many_columns",
                file,
                f"row {begins} has more than {settings.most_columns} columns",
                "it is probably no table of entries",
            )
        yield Record(begins, tuple(cells))


class _Lines:
    """The lines of a text as the csv module asks for them. Raises _BrokenQuote within a record that cannot be one."""

    def __init__(self, text: str, delimiter: str) -> None:
        self.lines = io.StringIO(text).readlines()
        self.delimiter = delimiter
        self.at = self._first = 0
        self._first_shape: tuple[str, ...] | None = None

    def begin_record(self) -> int:
        """To be called before a record is asked for. The line it begins on, as an editor counts."""
        self._first, self._first_shape = self.at, None
        return self.at + 1

    def __iter__(self) -> "_Lines":
        return self

    def __next__(self) -> str:
        if self.at >= len(self.lines):
            if self.at > self._first:
                raise _BrokenQuote
            raise StopIteration
        line = self.lines[self.at]
        if self.at > self._first:
            if self._first_shape is None:
                self._first_shape = row_shape(self.lines[self._first], self.delimiter)
            if begins_row(line, self.delimiter, self._first_shape):
                raise _BrokenQuote
        self.at += 1
        return line


def row_shape(line: str, delimiter: str) -> tuple[str, ...]:
    """Which cells of a line, cut as if it had no quotes, hold a day or time, figures as '9'; the others as ''."""
    cells = (cell.strip().strip('"').strip() for cell in line.split(delimiter)[:_SHAPED_CELLS])
    shape = [_FIGURES.sub("9", cell) if looks_timed(cell) else "" for cell in cells]
    while shape and not shape[-1]:
        shape.pop()
    return tuple(shape)


def begins_row(line: str, delimiter: str, like: tuple[str, ...]) -> bool:
    """Whether a line looks like the begin of a row: times in the cells where the row `like` has them, written alike.

    like  `row_shape` of a row; of one without a time any line with a time and something beside it looks like a row
    """
    shape = row_shape(line, delimiter)
    if like:
        return shape == like
    return bool(shape) and sum(1 for cell in line.split(delimiter, _SHAPED_CELLS) if cell.strip(' "\n')) > 1
