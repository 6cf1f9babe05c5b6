"""Tables of one file side by side: two of one kind under different names may be two persons'."""

import re
from dataclasses import dataclass, field
from datetime import datetime

from gramrise.domain.batch import Batch
from gramrise.intake.cells import source_named
from gramrise.intake.context import ReadContext
from gramrise.intake.files import ROW, TextTable, looks_timed
from gramrise.intake.labels import (
    AMOUNT,
    MEASURED,
    VALUE,
    own_words,
    person_named,
    quantity_of,
    read_label,
    shares_a_word,
    unknown_words,
)
from gramrise.intake.problems import FileWaits
from gramrise.intake.words import HeaderWords, folded

_KINDS = ("readings", "fingers", "doses", "events", "weights")
_LEAST_LETTERS = 3  # of a word that may be a name; our choice: 'a' and 'b' number the parts of an export
_TIMES = {"readings": "at_utc", "fingers": "at_utc", "doses": "taken_at_utc", "events": "at_utc"}
_MEASURED = {*MEASURED, AMOUNT, VALUE}
_COUNT_OF_SECONDS = re.compile(r"\d{9,13}")
_PARTS = re.compile(r"[^\W\d_]+|\d+")
_LETTERS = re.compile(r"[^\W\d_]+")
_YEAR_OR_DAY = re.compile(r"(?:19|20)\d\d(?:\W?\d{1,2}){0,2}")
_SPAN = tuple[datetime, datetime]


@dataclass(frozen=True, slots=True)
class NamedTable:
    """The words nobody knows in what names a table - its sheet, key, member, or the lines above it - and its kinds.

    persons  words for a person with the number or letter behind them: 'child 1', 'sister'
    letter   the one letter or number that is all of its name; '' where its name says more
    spans    first and last instant of each kind
    called   its sheet or keys as they stand there
    keys     of JSON: the keys that lead to it, the outermost first
    another  whether a sheet is called nothing but a name that is not this person's
    """

    names: frozenset[str]
    kinds: frozenset[str]
    persons: frozenset[str] = frozenset()
    letter: str = ""
    spans: dict[str, _SPAN] = field(default_factory=dict)
    called: str = ""
    keys: tuple[str, ...] = ()
    another: bool = False


def says_nothing(table: TextTable, words: HeaderWords) -> bool:
    """Whether a table beside others is no log: no cell looks like a time, and no header speaks of a quantity.

    Lists of devices or settings stand so in JSON. A table without a header may be anything, and is not passed over.
    """
    if not table.header or any(quantity_of(read_label(cell, words)) in _MEASURED for cell in table.header):
        return False
    cells = (cell for row in table.cells.drop(ROW).iter_rows() for cell in row if cell)
    return not any(looks_timed(cell) or _COUNT_OF_SECONDS.fullmatch(cell) for cell in cells)


def named_table(table: TextTable, batch: Batch, context: ReadContext) -> NamedTable:
    """What names a table, and what it brought."""
    words = context.words
    _, _, inner = table.file.partition(": ")
    own = inner.rpartition(".")[0] or inner
    texts = (own, *table.preamble)
    unknown = [word for text in texts for word in unknown_words(text, words) if len(word) >= _LEAST_LETTERS]
    kinds = [kind for kind in _KINDS if getattr(batch, kind).height]
    persons = frozenset(mark for text in texts for mark in _persons_in(text, words))
    letter = folded(own) if len(own.strip()) == 1 else ""
    json = bool(table.header) and table.header_row is None
    keys = tuple(inner.split(".")) if json else ()
    another = not json and _is_another(inner, context)
    return NamedTable(frozenset(unknown), frozenset(kinds), persons, letter, _spans(batch), inner, keys, another)


def _is_another(sheet: str, context: ReadContext) -> bool:
    """Whether a sheet is called nothing but a name, and not this person's or that of a source."""
    person = context.person
    if any(mark.isdigit() for mark in sheet) or not own_words(person) or shares_a_word(sheet, person):
        return False
    return bool(person_named(sheet, context.words)) and source_named(sheet, person.sources_now()) is None


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


def _apart(one: NamedTable, other: NamedTable, words: HeaderWords) -> tuple[str, str] | None:
    """What tells two tables of one kind apart as two persons'; None where nothing does."""
    for own, others in ((one.names, other.names), (one.persons, other.persons)):
        if own - others and others - own:
            return min(own - others), min(others - own)
    if one.letter and other.letter and one.letter != other.letter and _at_once(one, other):
        return one.letter, other.letter
    if one.called != other.called and (one.another or other.another):
        return one.called, other.called
    return _ids_apart(one, other, words)


def _ids_apart(one: NamedTable, other: NamedTable, words: HeaderWords) -> tuple[str, str] | None:
    """The first keys by which two tables of JSON differ, where both may be ids of persons: '17' and '18', 'p1', 'p2'.

    Keys of known words name sections, years and days parts of an export. Single letters are told apart by their times.
    """
    at = next((at for at, (own, others) in enumerate(zip(one.keys, other.keys, strict=False)) if own != others), -1)
    if at < 0:
        return None
    parts = {*_LETTERS.findall(folded(one.keys[at - 1])), ""} if at else {""}
    own, others = one.keys[at], other.keys[at]
    if parts & words.listed("whose", "parts") or not (_is_id(own, words) and _is_id(others, words)):
        return None
    letters = len(own) == len(others) == 1 and (own + others).isalpha()
    return (own, others) if not letters or _at_once(one, other) else None


def _is_id(key: str, words: HeaderWords) -> bool:
    """Whether a key is no word that anybody taught us, and no year or day."""
    said = _LETTERS.findall(folded(key))
    sections = words.listed("whose", "keys") | words.listed("whose", "parts")
    if _YEAR_OR_DAY.fullmatch(key) or sections.intersection(said):
        return False
    return not said or any(len(word) == 1 or unknown_words(word, words) for word in said)


def _at_once(one: NamedTable, other: NamedTable) -> bool:
    """Whether rows of one kind run side by side: parts of one export follow each other."""
    return any(
        one.spans[kind][0] <= other.spans[kind][1] and other.spans[kind][0] <= one.spans[kind][1]
        for kind in one.spans.keys() & other.spans.keys()
    )


def check_one_person(file: str, tables: list[NamedTable], words: HeaderWords) -> None:
    """Raises FileWaits where two tables bring rows of one kind under names by which they may be two persons'."""
    for at, one in enumerate(tables):
        for other in tables[at + 1 :]:
            apart = _apart(one, other, words) if one.kinds & other.kinds else None
            if apart is not None:
                first, second = apart
                raise FileWaits(
                    "several_persons", file,
                    f"two of its tables bring the same kind of rows, one named '{first}', the other '{second}'",
                    "bring each person's tables as a file of their own; where all are this person's, name them alike",
                    (f"the table named '{first}'", f"the table named '{second}'", "both"),
                )  # fmt: skip
