"""What each column of an unknown table holds, by its header words and its cells."""

import re
from dataclasses import dataclass
from functools import cache

import polars as pl

from gramrise.intake.cells import ANY_UNIT_BEHIND
from gramrise.intake.files import CLOCK_ALONE, DAY_ALONE, TextTable, looks_number, looks_timed
from gramrise.intake.words import HeaderWords, folded, header_words

_MOST_LOOKED_AT = 2000  # rows looked at for what a column holds; proofs look at all of them
_MOST_COUNTED = 200_000  # rows in which filled cells are counted
_MOST = 0.6  # share of a column's cells that settle what it holds: totals and remarks may stand among them
_COMPOUND = 5  # letters from which a word counts as the beginning of a longer one: zucker, zuckerwert
_GRAMS = re.compile(r"(?<![a-z])(g|gram|grams|gramm|grammes|gramos)(?![a-z])")


@dataclass(frozen=True, slots=True)
class ColumnProfile:
    """One column: `name` is how a layout calls it, `holds` is moment | day | clock | number | text | nothing."""

    at: int
    name: str
    label: str
    meanings: frozenset[str]
    holds: str
    in_grams: bool
    filled: int
    examples: tuple[str, ...]  # different texts, at most 40
    different: int


def profile_columns(table: TextTable, words: HeaderWords) -> list[ColumnProfile]:
    """Every column of a table, left to right."""
    labels = [cell.strip() for cell in table.header]
    found = []
    for at in range(table.width):
        filled = _trimmed(table.cells[str(at)].head(_MOST_COUNTED))
        sample = filled.head(_MOST_LOOKED_AT)
        label = labels[at] if at < len(labels) else ""
        means = meanings(label, words)
        whole = bool(means & {"person", "kind"})  # one odd name at the far end of a file counts
        texts = (_trimmed(table.cells[str(at)]) if whole else sample).unique(maintain_order=True)
        found.append(
            ColumnProfile(
                at,
                label if label and labels.count(label) == 1 else f"#{at + 1}",
                label or f"column {at + 1}",
                means,
                _holds(sample.to_list(), words),
                bool(_GRAMS.search(folded(label).replace("_", " "))),
                filled.len(),
                tuple(texts.head(40).to_list()),
                texts.len(),
            )
        )
    return found


def _trimmed(cells: pl.Series) -> pl.Series:
    """The filled cells of a column."""
    texts = cells.fill_null("").str.strip_chars()
    return texts.filter(texts != "")


def meanings(label: str, words: HeaderWords) -> frozenset[str]:
    """The kinds of content a header cell's words speak of."""
    spoken = header_words(label)
    found = set()
    for kind, entries in _by_kind(tuple(words.columns.items())):
        if any(word in entries or any(word.startswith(e) for e in entries if len(e) >= _COMPOUND) for word in spoken):
            found.add(kind)
    return frozenset(found)


@cache
def _by_kind(columns: tuple[tuple[str, tuple[str, ...]], ...]) -> tuple[tuple[str, frozenset[str]], ...]:
    return tuple((kind, frozenset(folded(entry) for entry in entries)) for kind, entries in columns)


def _holds(cells: list[str], words: HeaderWords) -> str:
    if not cells:
        return "nothing"
    ranges = {folded(word) for kind in ("below", "above", "none") for word in words.range[kind]}
    counts = {"moment": 0, "day": 0, "clock": 0, "number": 0}
    for cell in cells:
        if CLOCK_ALONE.fullmatch(cell):
            counts["clock"] += 1
        elif DAY_ALONE.fullmatch(cell) and not cell.isdigit():
            counts["day"] += 1
        elif looks_timed(cell) and not cell.isdigit():
            counts["moment"] += 1
        elif looks_number(cell) or _unit_cut(cell) or folded(cell) in ranges:
            counts["number"] += 1
    kind, count = max(counts.items(), key=lambda item: item[1])
    return kind if count >= _MOST * len(cells) else "text"


def _unit_cut(cell: str) -> bool:
    """A number with its unit behind it."""
    number = re.sub(ANY_UNIT_BEHIND, "", cell)
    return number != cell and looks_number(number)
