"""A table of container counts: container, source, from, to, filled, left, in any order of columns."""

import csv
from dataclasses import dataclass
from datetime import UTC, datetime
from io import StringIO
from typing import Final

from gramrise.domain.counts import ContainerCount
from gramrise.domain.person import Person
from gramrise.domain.problems import Trouble, WrongUse

COLUMNS: Final = ("container", "source", "from", "to", "filled", "left")
DELIMITERS: Final = ",;\t"


@dataclass(frozen=True, slots=True)
class CountTable:
    """What a table gave: good rows, and bad ones with their text. Together they are all rows of the table."""

    counts: tuple[ContainerCount, ...]
    troubles: tuple[tuple[Trouble, str], ...]


def is_count_table(first_line: str) -> bool:
    """Whether a header names exactly the columns of counts."""
    return _delimiter(first_line) is not None


def read_count_table(text: str, file: str, person: Person, now_utc: datetime) -> CountTable:
    """The rows of a table whose header `is_count_table` knows. Times are the person's local clock."""
    lines = text.lstrip("\ufeff").splitlines()
    delimiter = _delimiter(lines[0]) or ","
    names = [name.strip().lower() for name in lines[0].split(delimiter)]
    counts, troubles = [], []
    for number, cells in enumerate(csv.reader(StringIO("\n".join(lines[1:])), delimiter=delimiter), start=2):
        if not any(cell.strip() for cell in cells):
            continue
        row = dict(zip(names, (cell.strip() for cell in cells), strict=False))
        try:
            counts.append(_count(row, person, now_utc))
        except WrongUse as problem:
            trouble = Trouble("not_a_count", file, number, "", "", problem.what, problem.mend)
            troubles.append((trouble, delimiter.join(cells)))
    return CountTable(tuple(counts), tuple(troubles))


def _delimiter(line: str) -> str | None:
    for delimiter in DELIMITERS:
        names = [name.strip().strip('"').lower() for name in line.lstrip("\ufeff").split(delimiter)]
        if sorted(names) == sorted(COLUMNS):
            return delimiter
    return None


def _count(row: dict[str, str], person: Person, now_utc: datetime) -> ContainerCount:
    missing = [name for name in COLUMNS if not row.get(name)]
    if missing:
        raise WrongUse(f"{', '.join(missing)} is empty", "fill in every column of the row")
    begin, end = _instant(row["from"], person), _instant(row["to"], person)
    if end > now_utc:
        raise WrongUse(f"{row['to']} has not been yet", "give the time at which it was counted")
    return ContainerCount(
        person.person_id, row["container"], row["source"], begin, end, _pieces(row["filled"]), _pieces(row["left"])
    )


def _instant(text: str, person: Person) -> datetime:
    try:
        stated = datetime.fromisoformat(text)
    except ValueError as problem:
        raise WrongUse(f"'{text}' is not a time", "write it as 2026-03-09 13:20") from problem
    if stated.tzinfo is None:
        stated = stated.replace(tzinfo=person.zone.on_or_first(stated.date()))
    return stated.astimezone(UTC)


def _pieces(text: str) -> int:
    try:
        return int(text)
    except ValueError as problem:
        raise WrongUse(f"'{text}' is no whole number of pieces", "count whole pieces") from problem
