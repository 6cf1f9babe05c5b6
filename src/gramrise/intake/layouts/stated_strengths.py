"""A line above a table that says what one piece or one mL holds, and what the person's sources are stated to hold."""

import re
from typing import Final

from gramrise.connectors.layout import GlucoseGiven, Layout
from gramrise.domain.sources import AmountUnit, Source
from gramrise.intake.cells import dose_unit_named, source_named
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.words import folded

_MOST_LETTERS: Final = 200
_SAME: Final = 0.01  # our choice: strengths that differ by less than one part in a hundred are one, rounded
_NUMBER: Final = r"(\d{1,4}(?:[.,]\d{1,3})?)"
_MASS: Final = r"(g|gr|gram|grams|gramm|grammes?|gramos?|mg)\b"
# '1 Stueck = 5 g', '100 ml: 30 g', 'Traubenzucker a 5 g', 'one tablet has 4 g'.
_EQUALS: Final = re.compile(
    rf"(?:{_NUMBER} ?)?\b([a-z]{{1,20}})\.? ?"
    rf"(?:=|:|\(|a |je |zu |zu je |mit |hat |has |is |are |sind |enthalt |contains? |holds? |wiegt |weighs? ){{1,2}} ?"
    rf"{_NUMBER} ?{_MASS}"
)
# '5 g pro Stueck', '4 g of glucose per tablet', '0.3 g/ml'.
_EACH: Final = re.compile(
    rf"{_NUMBER} ?{_MASS}(?: [a-z]{{2,14}}){{0,2}} ?(?:/|je |pro |per |a |each |par |por |in )(?:1 |one |ein |einem )?"
    r"([a-z]{1,20})\b"
)
# 'Je Stueck 5 g', 'per piece: 5 g'.
_ONE: Final = re.compile(rf"\b(?:je|pro|per|par|por|a|1|one|ein) ([a-z]{{1,20}})\.? ?:? ?{_NUMBER} ?{_MASS}")


def check_strengths(layout: Layout, table: TextTable, context: ReadContext, evidence: Evidence) -> None:
    """Adds an open point where a line above a table of glucose given states another strength than the person's."""
    if not any(isinstance(part, GlucoseGiven) and not part.grams for part in layout.brings):
        return
    for line in table.preamble:
        for word, grams in _stated(folded(line)[:_MOST_LETTERS]):
            known = _sources_meant(word, line, context)
            if known and not any(_agrees(source, grams) for source in known):
                evidence.open.append(_contradicted(line, grams, known[-1], context))
                return


def _stated(line: str) -> list[tuple[str, float]]:
    """Each (word for what is counted, grams in one of it) that a line says."""
    found = []
    for count, word, mass, unit in _EQUALS.findall(line):
        number = _number(count) if count else 1.0
        if number > 0:
            found.append((word, _grams(mass, unit) / number))
    for mass, unit, word in _EACH.findall(line):
        found.append((word, _grams(mass, unit)))
    return found + [(word, _grams(mass, unit)) for word, mass, unit in _ONE.findall(line)]


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _grams(mass: str, unit: str) -> float:
    return _number(mass) / (1000.0 if unit == "mg" else 1.0)


def _sources_meant(word: str, line: str, context: ReadContext) -> list[Source]:
    """The sources, of any time, of which a line speaks: by name, else all that are counted in the unit it names."""
    every = [source for _, sources in context.person.sources.entries for source in sources]
    by_word = [source for source in every if source_named(word, (source,)) is not None]
    unit = {"piece": AmountUnit.PIECE, "ml": AmountUnit.ML}.get(dose_unit_named(word, context.words))
    if not by_word and unit is None:
        return []
    said = f" {re.sub('[^0-9a-z]+', ' ', folded(line))} "
    counted = [source for source in every if source.unit is (unit or AmountUnit.PIECE)]
    named = [one for one in counted if any(f" {folded(name)} " in said for name in one.names)]
    return [source for source in by_word if source in counted] or named or counted


def _agrees(source: Source, grams: float) -> bool:
    stated = source.grams_per_piece if source.grams_per_piece is not None else source.grams_per_ml
    return any(abs(one - grams) <= _SAME * grams for one in (stated, source.glucose_per_unit_g) if one is not None)


def _contradicted(line: str, grams: float, source: Source, context: ReadContext) -> OpenPoint:
    stated = source.grams_per_piece if source.grams_per_piece is not None else source.grams_per_ml
    return OpenPoint(
        "strength_contradicts",
        f"the line '{line[:60]}' says {grams:g} g each, and {source.name} is stated to hold "
        f"{stated:g} g",
        "take the line out where it is wrong, or state the strength that held then with "
        f"gramrise person source {context.person.person_id} '{source.name}' --help",
    )  # fmt: skip
