"""Delimited text to records. Quoted line breaks, ragged rows and blank lines are kept; a record knows its line."""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

from gramrise.intake.problems import FileRefused
from gramrise.intake.settings import IntakeSettings

DELIMITERS = (";", "\t", ",", "|")


@dataclass(frozen=True, slots=True)
class Record:
    row: int  # line it begins on, as an editor counts
    cells: tuple[str, ...]

    @property
    def filled(self) -> list[str]:
        """Its cells that hold something."""
        return [cell for cell in self.cells if cell.strip()]

    @property
    def blank(self) -> bool:
        """Whether no cell holds anything."""
        return not any(cell.strip() for cell in self.cells)


def records(text: str, delimiter: str, file: str, settings: IntakeSettings) -> list[Record]:
    """All records of a text, blank ones too. Raises FileRefused for lines or rows beyond the bounds."""
    check_line_lengths(text, file, settings)
    return list(_records(text, delimiter, file, settings))


def check_line_lengths(text: str, file: str, settings: IntakeSettings) -> None:
    """Raises FileRefused where a line is longer than any entry."""
    longest = max(map(len, text.split("\n")), default=0)
    if longest > settings.most_line_characters:
        raise FileRefused(
            "line_too_long",
            file,
            f"a line is longer than {settings.most_line_characters} characters",
            "it is probably no table of entries: export it again as CSV",
        )


def _records(text: str, delimiter: str, file: str, settings: IntakeSettings) -> Iterator[Record]:
    csv.field_size_limit(settings.most_line_characters)
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    begins = 1
    try:
        for cells in reader:
            if len(cells) > settings.most_columns:
                raise FileRefused(
                    "too_many_columns",
                    file,
                    f"row {begins} has more than {settings.most_columns} columns",
                    "it is probably no table of entries",
                )
            yield Record(begins, tuple(cells))
            begins = reader.line_num + 1
    except csv.Error as problem:
        raise FileRefused(
            "quotes_broken",
            file,
            f"the record that begins in row {begins} cannot be cut ({problem})",
            "look for a quotation mark without its partner in that row",
        ) from problem
