"""Tables of one file side by side: two of one kind under different names may be two persons'."""

import re
from dataclasses import dataclass, field
from datetime import datetime

from gramrise.domain.batch import Batch
from gramrise.intake.files import ROW, TextTable, looks_timed
from gramrise.intake.labels import AMOUNT, MEASURED, VALUE, quantity_of, read_label, unknown_words
from gramrise.intake.problems import FileWaits
from gramrise.intake.words import HeaderWords, folded

_KINDS = ("readings", "fingers", "doses", "events", "weights")
_LEAST_LETTERS = 3  # of a word that may be a name; our choice: 'a' and 'b' number the parts of an export
_TIMES = {"readings": "at_utc", "fingers": "at_utc", "doses": "taken_at_utc", "events": "at_utc"}
_MEASURED = {*MEASURED, AMOUNT, VALUE}
_COUNT_OF_SECONDS = re.compile(r"\d{9,13}")
_PARTS = re.compile(r"[^\W\d_]+|\d+")
_SPAN = tuple[datetime, datetime]


@dataclass(frozen=True, slots=True)
class NamedTable:
    """The words nobody knows in what names a table - its sheet, key, member, or the lines above it - and its kinds.

    persons  words for a person with the number or letter behind them: 'child 1', 'sister'
    letter   the one letter or number that is all of its name; '' where its name says more
    spans    first and last instant of each kind
    """

    names: frozenset[str]
    kinds: frozenset[str]
    persons: frozenset[str] = frozenset()
    letter: str = ""
    spans: dict[str, _SPAN] = field(default_factory=dict)


def says_nothing(table: TextTable, words: HeaderWords) -> bool:
    """Whether a table beside others is no log: no cell looks like a time, and no header speaks of a quantity.

    Lists of devices or settings stand so in JSON. A table without a header may be anything, and is not passed over.
    """
    if not table.header or any(quantity_of(read_label(cell, words)) in _MEASURED for cell in table.header):
        return False
    cells = (cell for row in table.cells.drop(ROW).iter_rows() for cell in row if cell)
    return not any(looks_timed(cell) or _COUNT_OF_SECONDS.fullmatch(cell) for cell in cells)


def named_table(table: TextTable, batch: Batch, words: HeaderWords) -> NamedTable:
    """What names a table, and what it brought."""
    _, _, inner = table.file.partition(": ")
    own = inner.rpartition(".")[0] or inner
    texts = (own, *table.preamble)
    unknown = [word for text in texts for word in unknown_words(text, words) if len(word) >= _LEAST_LETTERS]
    kinds = [kind for kind in _KINDS if getattr(batch, kind).height]
    persons = frozenset(mark for text in texts for mark in _persons_in(text, words))
    letter = folded(own) if len(own.strip()) == 1 else ""
    return NamedTable(frozenset(unknown), frozenset(kinds), persons, letter, _spans(batch))


def _persons_in(text: str, words: HeaderWords) -> list[str]:
    """Words for a person, each with the number or single letter that stands behind it."""
    parts = _PARTS.findall(folded(text)[:200])
    found = []
    for part, behind in zip(parts, [*parts, ""][1:], strict=True):
        if "person" in read_label(part, words).meanings and not part.isdigit():
            found.append(f"{part} {behind}".strip() if behind.isdigit() or len(behind) == 1 else part)
    return found


def _spans(batch: Batch) -> dict[str, _SPAN]:
    found = {}
    for kind, column in _TIMES.items():
        times = getattr(batch, kind)[column]
        if len(times):
            found[kind] = (times.min(), times.max())
    return found


def _apart(one: NamedTable, other: NamedTable) -> tuple[str, str] | None:
    """What tells two tables of one kind apart as two persons'; None where nothing does."""
    for own, others in ((one.names, other.names), (one.persons, other.persons)):
        if own - others and others - own:
            return min(own - others), min(others - own)
    if one.letter and other.letter and one.letter != other.letter and _at_once(one, other):
        return one.letter, other.letter
    return None


def _at_once(one: NamedTable, other: NamedTable) -> bool:
    """Whether rows of one kind run side by side: parts of one export follow each other."""
    return any(
        one.spans[kind][0] <= other.spans[kind][1] and other.spans[kind][0] <= one.spans[kind][1]
        for kind in one.spans.keys() & other.spans.keys()
    )


def check_one_person(file: str, tables: list[NamedTable]) -> None:
    """Raises FileWaits where two tables bring rows of one kind under names that differ in words nobody knows."""
    for at, one in enumerate(tables):
        for other in tables[at + 1 :]:
            apart = _apart(one, other) if one.kinds & other.kinds else None
            if apart is not None:
                first, second = apart
                raise FileWaits(
                    "several_persons", file,
                    f"two of its tables bring the same kind of rows, one named '{first}', the other '{second}'",
                    "bring each person's tables as a file of their own; where all are this person's, name them alike",
                    (f"the table named '{first}'", f"the table named '{second}'", "both"),
                )  # fmt: skip
