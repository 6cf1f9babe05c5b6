"""A heading inside a table: what stands below it may be another person's, in another unit or zone, or planned."""

import re

import polars as pl

from gramrise.connectors.layout import Clock
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import OpenPoint
from gramrise.intake.files import ROW, TextTable, looks_timed
from gramrise.intake.labels import MEASURED, quantity_of, read_label, unit_of_cell, unknown_words, zone_of_text
from gramrise.intake.words import HeaderWords, folded

_MOST_LETTERS = 60  # of a heading; our choice: a longer text is a remark
_LETTERS = re.compile(r"[^\W\d_]+")
_NAME = re.compile(r"[^\W\d_][^\W\d_ .'-]{0,40}(?:[ .'-]{1,2}[^\W\d_]{1,40}){0,3}[ .,;:|-]{0,40}")
_ORNAMENTS = " -*#=~_.,:;|()[]<>"
_MOST_WORDS = 3  # of a name; our choice
_LEAST_LETTERS = 2  # a letter alone is a slip of the hand
_WORDED = r"^[^\p{L}\d]*\p{L}"
_MOST_LOOKED_AT = 1000  # rows of words


def heading_inside(table: TextTable, clock: Clock, context: ReadContext) -> OpenPoint | None:
    """The first row whose time cell holds words that change what the rows below it are; None where there is none."""
    at = table.column(clock.columns[0])
    if at is None:
        return None
    header = tuple(cell for cell in map(folded, table.header) if cell)
    last = int(table.cells[ROW].max() or 0)  # type: ignore[arg-type]  # a line of words at the very end heads nothing
    times = pl.col(at).fill_null("")
    untimed = table.cells.filter(times.str.contains(_WORDED) | ~times.str.contains(r"\d"))
    worded = untimed.filter(_first_filled(table, at).str.contains(_WORDED))
    for row, *cells in worded.head(_MOST_LOOKED_AT).iter_rows():
        filled = [cell.strip() for cell in cells if cell and cell.strip()]
        if tuple(map(folded, filled)) == header or any(looks_timed(cell) for cell in filled):
            continue
        said = _said(" ".join(filled), context.words, context.others) if _only_words(filled) else ""
        if not said and len(filled) == 1 and row < last and _may_be_a_name(filled[0], context):
            said = "something nobody knows, which may be a person"
        if said:
            return OpenPoint(
                "heading_inside", f"row {row}, '{' '.join(filled)[:60]}', stands among the rows and names {said}",
                "cut the file in two there, each part with its own header; where it says nothing, take the row out",
            )  # fmt: skip
    return None


def _first_filled(table: TextTable, at: str) -> pl.Expr:
    """The cell of the time, or the first that holds anything where that one is empty."""
    others = [str(column) for column in range(table.width) if str(column) != at]
    cells = [pl.col(column).fill_null("").str.strip_chars() for column in (at, *others)]
    return pl.coalesce(*[pl.when(cell != "").then(cell) for cell in cells], pl.lit(""))


def _only_words(filled: list[str]) -> bool:
    return sum(map(len, filled)) <= _MOST_LETTERS and not any(cell[0].isdigit() for cell in filled[1:2])


def _may_be_a_name(text: str, context: ReadContext) -> bool:
    """Whether a lone cell is one word, or up to three with capitals, that nobody has taught us: 'Ben', 'Anna M.'."""
    text = text.strip(_ORNAMENTS)
    words = _LETTERS.findall(text)
    capitals = all(word[:1].isupper() for word in words)
    few = len(words) == 1 or (capitals and len(words) <= _MOST_WORDS)
    if not few or len("".join(words)) < _LEAST_LETTERS or not _NAME.fullmatch(text):
        return False
    return bool(unknown_words(" ".join(words), context.words))


def _said(text: str, words: HeaderWords, others: frozenset[str]) -> str:
    """What a heading names: a person, a unit, a zone, a kind of rows, or that they never happened."""
    label = read_label(text, words)
    plain = type(label)(label.text, label.meanings, label.units, ())
    bad = {folded(word) for word in words.states["bad"]}
    if set(folded(text).replace(":", " ").split()) & others:
        return "another person"
    if label.meanings & {"person", "relative"}:
        return "a person"
    if unit_of_cell(text, words) or label.units & {"mg_dl", "mmol_l"}:
        return "a unit"
    if zone_of_text(text) is not None:
        return "a zone"
    if set(folded(text).replace(",", " ").replace(":", " ").split()) & bad:
        return "rows that may never have happened"
    return (
        "a kind of rows"
        if ("not_itself" in label.meanings and not label.unknown) or quantity_of(plain) in MEASURED
        else ""
    )
