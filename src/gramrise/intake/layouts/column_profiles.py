"""What each column of an unknown table holds, by its header words and its cells."""

import re
from dataclasses import dataclass

import polars as pl

from gramrise.intake.cells import ANY_UNIT_BEHIND
from gramrise.intake.files import CLOCK_ALONE, DAY_ALONE, TextTable, looks_number, looks_timed
from gramrise.intake.labels import Label, quantity_of, read_label
from gramrise.intake.words import HeaderWords, folded

_MOST_LOOKED_AT = 2000  # rows looked at for what a column holds; proofs look at all of them
_MOST_COUNTED = 200_000  # rows in which filled cells are counted
MOST_EXAMPLES = 60  # different texts kept of a column: a column of words for kinds has fewer
_DOTTED_CLOCK = re.compile(r"(?:[01]?\d|2[0-3])\.[0-5]\d")
_MOST = 0.6  # share of a column's cells that settle what it holds: totals and remarks may stand among them


@dataclass(frozen=True, slots=True)
class ColumnProfile:
    """One column: `name` is how a layout calls it, `holds` is moment | day | clock | number | text | nothing."""

    at: int
    name: str
    label: str
    said: Label
    holds: str
    filled: int
    examples: tuple[str, ...]  # different texts, at most 60
    different: int

    @property
    def meanings(self) -> frozenset[str]:
        """What the words of its header mean."""
        return self.said.meanings

    @property
    def quantity(self) -> str:
        """Of which quantity its header speaks."""
        return quantity_of(self.said)

    @property
    def in_grams(self) -> bool:
        """Whether its header names grams."""
        return self.said.unit == "gram" or "grams" in self.meanings


def profile_columns(table: TextTable, words: HeaderWords) -> list[ColumnProfile]:
    """Every column of a table, left to right. A row with more cells than the header is set aside: they say nothing."""
    labels = [cell.strip() for cell in table.header]
    found = []
    for at in range(min(table.width, len(labels)) if labels else table.width):
        filled = _trimmed(table.cells[str(at)].head(_MOST_COUNTED))
        sample = filled.head(_MOST_LOOKED_AT)
        label = labels[at] if at < len(labels) else ""
        texts = _trimmed(table.cells[str(at)]).unique(maintain_order=True)  # one odd word at the far end counts
        found.append(
            ColumnProfile(
                at,
                label if label and labels.count(label) == 1 else f"#{at + 1}",
                label or f"column {at + 1}",
                read_label(label, words),
                _holds(sample.to_list(), words, read_label(label, words)),
                filled.len(),
                tuple(texts.head(MOST_EXAMPLES).to_list()),
                texts.len(),
            )
        )
    return found


def _trimmed(cells: pl.Series) -> pl.Series:
    """The filled cells of a column."""
    texts = cells.fill_null("").str.strip_chars()
    return texts.filter(texts != "")


def _holds(cells: list[str], words: HeaderWords, said: Label) -> str:
    if not cells:
        return "nothing"
    if said.meanings & {"time_of_day", "when"} and all(_DOTTED_CLOCK.fullmatch(cell) for cell in cells):
        return "clock"  # '07.30' under a word for time
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
    if counts["number"] and not any(mark in "123456789" for cell in cells for mark in cell):
        return "text" if any(mark.isalpha() for cell in cells for mark in cell) else "number"
    kind, count = max(counts.items(), key=lambda item: item[1])
    return kind if count >= _MOST * len(cells) else "text"


def _unit_cut(cell: str) -> bool:
    """A number with its unit behind it."""
    number = re.sub(ANY_UNIT_BEHIND, "", cell)
    return number != cell and looks_number(number)
