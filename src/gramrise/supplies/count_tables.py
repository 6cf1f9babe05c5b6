"""A table of container counts: container, source, from, to, filled, left, in any order of columns."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

from gramrise.domain.counts import ContainerCount
from gramrise.domain.person import Person
from gramrise.domain.problems import Trouble, WrongUse
from gramrise.domain.sources import AmountUnit

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
    names = [name.strip().strip('"').lower() for name in lines[0].split(delimiter)]
    counts, troubles = [], []
    for number, line in enumerate(lines[1:], start=2):
        # Cut line by line: a mark of quotation without its partner costs its own row only.
        cells = line.split(delimiter)
        if not any(cell.strip() for cell in cells):
            continue
        row = dict(zip(names, (cell.strip() for cell in cells), strict=False))
        try:
            if any(mark in line for mark in ('"', "\0")):
                raise WrongUse("a mark of quotation or no character stands in the row", "write plain names without it")
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
    known = {source.name for _, told in person.sources.entries for source in told if source.unit is AmountUnit.PIECE}
    if row["source"] not in known:
        one_of = ", ".join(sorted(known)) or "none is stated yet: gramrise person source"
        raise WrongUse(f"'{row['source']}' is no source that comes in pieces", f"one of: {one_of}")
    if end > now_utc:
        raise WrongUse(f"{row['to']} has not been yet", "give the time at which it was counted")
    return ContainerCount(
        person.person_id, row["container"], row["source"], begin, end, _pieces(row["filled"]), _pieces(row["left"])
    )


def _instant(text: str, person: Person) -> datetime:
    try:
        stated = datetime.fromisoformat(text)
        if stated.tzinfo is None:
            stated = stated.replace(tzinfo=person.zone.on_or_first(stated.date()))
        return stated.astimezone(UTC)
    except (ValueError, OverflowError) as problem:
        raise WrongUse(f"'{text[:40]}' is not a time", "write it as 2026-03-09 13:20") from problem


def _pieces(text: str) -> int:
    # Our choice: no container of a family holds more.
    if not (text.isascii() and text.isdigit() and len(text) <= 4):
        raise WrongUse(f"'{text[:40]}' is no whole number of pieces that a container holds", "count whole pieces")
    return int(text)
