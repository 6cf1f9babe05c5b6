"""Units as headers write them, and the decimal mark as the numbers of a column prove it."""

import re

import polars as pl

from gramrise.domain.units import GlucoseUnit
from gramrise.intake.evidence import OpenPoint
from gramrise.intake.labels import read_label
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.words import HeaderWords

UNIT_NAMES = {"mg_dl": GlucoseUnit.MG_DL.value, "mmol_l": GlucoseUnit.MMOL_L.value}
_OF_OTHER_THINGS = frozenset({
    "not_itself", "irrelevant", "analyte", "doubtful", "relative", "insulin", "long_insulin", "food", "carbs", "weight",
    "activity", "nutrition", "container", "glucose_source",
})  # fmt: skip
_AMOUNT_OF_GLUCOSE = re.compile(r"\d\s{0,9}[(\[]?\s{0,9}(?:mg|mmol)", re.IGNORECASE)
_ENOUGH_TO_CONTRADICT = 20  # our choice: values enough to see that a header's unit cannot be theirs


def glucose_unit_in(text: str, words: HeaderWords) -> GlucoseUnit | None:
    """The one glucose unit that a header cell or a line names; None where it names none, or both."""
    named = read_label(text, words).units & UNIT_NAMES.keys()
    return GlucoseUnit(UNIT_NAMES[next(iter(named))]) if len(named) == 1 else None


def _unit_stated_above(line: str, words: HeaderWords) -> GlucoseUnit | None:
    """The unit of glucose that a line above a table states for its values.

    A line of a target, of ketones or of an amount of anything ('4-10 mmol/L') says nothing of the values below it.
    """
    label = read_label(line, words)
    if label.unknown or label.meanings & _OF_OTHER_THINGS or _AMOUNT_OF_GLUCOSE.search(line):
        return None
    return glucose_unit_in(line, words)


def weight_unit_in(cell: str, words: HeaderWords) -> str | None:
    """'kg' or 'lb' where a header cell names one of them."""
    found = read_label(cell, words).units & {"kg", "lb"}
    return next(iter(found)) if len(found) == 1 else None


def decimal_proved(cells: pl.Series) -> str | None:
    """The decimal mark the numbers of a column prove: '.' or ','; '' where none is needed; None where it stays open.

    Open: a single comma or point before exactly three digits may part thousands, and nothing else decides.
    """
    text = cells.drop_nulls().str.strip_chars()
    text = text.filter(text.str.contains(r"^[+-]?[\d.,'\u{a0}\u{202f} ]*\d$") & text.str.contains(r"[.,]"))
    if text.is_empty():
        return ""
    last_comma = text.str.contains(r",\d*$")
    last_point = text.str.contains(r"\.\d*$")
    open_ones = text.str.contains(r"^[+-]?[1-9]\d{0,2}[.,]\d{3}$")
    comma = bool((last_comma & ~open_ones).any())
    point = bool((last_point & ~open_ones).any())
    thousands_only = text.str.contains(r"^[+-]?\d{1,3}([.,]\d{3}){2,}$")
    if comma and point:
        comma = bool((last_comma & ~open_ones & ~thousands_only).any())
        point = bool((last_point & ~open_ones & ~thousands_only).any())
    if comma != point:
        return "," if comma else "."
    return None


def unit_of_values(label: str, preamble: tuple[str, ...], values: pl.Series, settings: IntakeSettings,
                   words: HeaderWords) -> tuple[GlucoseUnit, str] | OpenPoint:  # fmt: skip
    """The unit of a column's glucose values, and the proof: its header, the lines above, its cells, or enough values.

    values  f64, numbers alone, unit not yet applied
    """
    written = glucose_unit_in(label, words)
    above = {unit for line in preamble if (unit := _unit_stated_above(line, words)) is not None}
    by_values = _by_values(values, settings)
    if written is not None and above and above != {written}:
        return _open(
            f"the header '{label}' says {written.value}, a line above the table says otherwise", "contradicted"
        )
    stated = written or (above.pop() if len(above) == 1 else None)
    if stated is not None:
        where = f"the header '{label}'" if written else "a line above the table"
        if by_values is not None and by_values is not stated and values.len() >= _ENOUGH_TO_CONTRADICT:
            return _open(f"{where} says {stated.value}, but the values of '{label}' are not like that", "contradicted")
        return stated, f"{where} says so"
    if by_values is not None and values.len() >= settings.values_that_prove_a_unit:
        middle = float(values.median() or 0.0)  # type: ignore[arg-type]
        return by_values, f"{values.len()} values around {middle:.4g} can be nothing else"
    return _open(f"nothing says in which unit the values of '{label}' are", "open")


def _by_values(values: pl.Series, settings: IntakeSettings) -> GlucoseUnit | None:
    """The unit in which the middle of the values is a possible one."""
    middle = values.median()
    if not isinstance(middle, (int, float)):
        return None
    if settings.median_mmol_l_from <= middle <= settings.median_mmol_l_to:
        return GlucoseUnit.MMOL_L
    if settings.median_mg_dl_from <= middle <= settings.median_mg_dl_to:
        return GlucoseUnit.MG_DL
    return None


def _open(what: str, how: str) -> OpenPoint:
    return OpenPoint(
        f"unit_{how}",
        what,
        "write the unit into the header, or say it under [[brings]] in a layout",
        ("the values are mg/dL", "the values are mmol/L"),
        ('unit = "mg/dL"', 'unit = "mmol/L"'),
    )
