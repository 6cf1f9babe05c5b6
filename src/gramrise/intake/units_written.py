"""Units as headers write them, and the decimal mark as the numbers of a column prove it."""

import re
from functools import cache

import polars as pl

from gramrise.domain.units import GlucoseUnit
from gramrise.intake.words import HeaderWords, folded


def glucose_unit_in(cell: str, words: HeaderWords) -> GlucoseUnit | None:
    """The one glucose unit a header cell names; None where it names none, or both."""
    found = [
        unit for unit, key in ((GlucoseUnit.MG_DL, "mg_dl"), (GlucoseUnit.MMOL_L, "mmol_l")) if _names(cell, key, words)
    ]
    return found[0] if len(found) == 1 else None


def weight_unit_in(cell: str, words: HeaderWords) -> str | None:
    """'kg' or 'lb' where a header cell names one of them."""
    found = [unit for unit in ("kg", "lb") if _names(cell, unit, words)]
    return found[0] if len(found) == 1 else None


def _names(cell: str, key: str, words: HeaderWords) -> bool:
    plain = re.sub(r"[\s_]+", " ", folded(cell))
    return any(expression.search(plain) for expression in _expressions(words.units[key]))


@cache
def _expressions(entries: tuple[str, ...]) -> tuple[re.Pattern[str], ...]:
    plain = {re.sub(r"[\s_]+", " ", folded(entry)) for entry in entries}
    return tuple(re.compile(rf"(?<![a-z0-9]){re.escape(entry)}(?![a-z0-9])") for entry in sorted(plain))


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
