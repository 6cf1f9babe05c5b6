"""Glucose cells to mg/dL: numbers in either unit, and what stands for a value outside the sensor's range."""

import re
from dataclasses import dataclass

import polars as pl

from gramrise.connectors.layout import FileShape, Glucose
from gramrise.domain.units import MG_DL_PER_MMOL_L, GlucoseUnit
from gramrise.domain.words import Range
from gramrise.intake.cells.numbers import numbers_of, read_number
from gramrise.intake.cells.unit_suffixes import UNIT_BEHIND
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.words import HeaderWords, folded

_COMPARED = re.compile(r"([<>≤≥]|<=|>=)\s{0,9}(\S{1,40})\s{0,9}(?:mg/dl|mmol/l)?")


@dataclass(frozen=True, slots=True)
class Meaning:
    """What stands for a value outside the range, in mg/dL where a bound is said."""

    range: str  # below | above | none (no reading) | odd
    bound_mg_dl: float | None = None


def glucose_values(
    cells: pl.DataFrame, part: Glucose, file: FileShape, settings: IntakeSettings, words: HeaderWords
) -> pl.DataFrame:
    """Adds glucose_mg_dl, range and code to rows with text columns `value` and `unit_beside` ('' where there is none).

    A unit in the row itself, behind the number or in a column of its own, goes before that of the column.
    code  '' good | 'blank' nothing there | 'not_a_number' | 'glucose_implausible'
    """
    scale = MG_DL_PER_MMOL_L if part.unit == GlucoseUnit.MMOL_L.value else 1.0
    cells = _with_own_units(cells, scale, words)
    cells = cells.with_columns(number=_numbers_mg_dl(cells, part, file))
    plausible = pl.col("number").is_between(settings.least_glucose_mg_dl, settings.most_glucose_mg_dl)
    plain = part.floor is None and part.ceiling is None and cells["number"].null_count() == 0
    if plain and cells.select(plausible.all()).item():
        return cells.with_columns(
            pl.col("number").alias("glucose_mg_dl"), range=pl.lit(Range.IN.value), code=pl.lit("")
        )
    odd = cells["number"].is_null() & (cells["value"] != "")
    meanings = _meanings(cells.filter(odd)["value"].unique().to_list(), part, scale, file.decimal, settings, words)
    return _with_range(_with_meanings(cells, meanings), part, scale, plausible)


def _numbers_mg_dl(cells: pl.DataFrame, part: Glucose, file: FileShape) -> pl.Series:
    numbers = numbers_of(cells["value"], file.decimal, file.thousands)
    if part.unit == GlucoseUnit.MG_DL.value and (cells["scale"] == 1.0).all():
        return numbers
    return numbers * cells["scale"]


def _with_range(cells: pl.DataFrame, part: Glucose, scale: float, plausible: pl.Expr) -> pl.DataFrame:
    """Value, range and code of each row: a word for the range, a number at the sensor's limit, or a plain number."""
    number, meant = pl.col("number"), pl.col("meant")
    floor = None if part.floor is None else part.floor * scale
    ceiling = None if part.ceiling is None else part.ceiling * scale
    at_floor = number <= floor + 1e-9 if floor is not None else pl.lit(False)
    at_ceiling = number >= ceiling - 1e-9 if ceiling is not None else pl.lit(False)
    return cells.with_columns(
        glucose_mg_dl=pl.when(number.is_null()).then("bound")
        .when(at_floor).then(pl.lit(floor)).when(at_ceiling).then(pl.lit(ceiling)).otherwise(number),
        range=pl.when(meant.is_in([Range.BELOW.value, Range.ABOVE.value])).then(meant)
        .when(at_floor).then(pl.lit(Range.BELOW.value)).when(at_ceiling).then(pl.lit(Range.ABOVE.value))
        .otherwise(pl.lit(Range.IN.value)),
        code=pl.when((pl.col("value") == "") | (meant == "none")).then(pl.lit("blank"))
        .when(meant == "odd").then(pl.lit("not_a_number"))
        .when(number.is_not_null() & ~plausible).then(pl.lit("glucose_implausible"))
        .otherwise(pl.lit("")),
    )  # fmt: skip


def _with_own_units(frame: pl.DataFrame, scale: float, words: HeaderWords) -> pl.DataFrame:
    """`value` without a unit behind it, and `scale` to mg/dL: the row's own unit's, else the column's."""
    behind = pl.col("value").str.extract(UNIT_BEHIND).str.to_lowercase()
    own = frame["value"].str.contains_any(["/", "%", "mmol"], ascii_case_insensitive=True).any()
    if not own and (frame["unit_beside"] == "").all():
        return frame.with_columns(scale=pl.lit(scale))
    known = {_plain_unit(name): worth for key, worth in (("mg_dl", 1.0), ("mmol_l", MG_DL_PER_MMOL_L))
             for name in words.units[key]}  # fmt: skip
    texts = {text: known.get(_plain_unit(text)) for text in frame["unit_beside"].unique().to_list() if text}
    beside = pl.col("unit_beside").replace_strict(texts, default=None, return_dtype=pl.Float64) if texts else None
    by_value = pl.when(behind.str.starts_with("mmol")).then(MG_DL_PER_MMOL_L).when(behind.is_not_null()).then(1.0)
    strange = (pl.col("unit_beside") != "") & beside.is_null() if beside is not None else pl.lit(False)
    return frame.with_columns(
        # A unit that nobody knows gives no value: the row is set aside as no number.
        scale=pl.coalesce(by_value, *([beside] if beside is not None else []),
                          pl.when(~strange).then(pl.lit(scale))),
        value=pl.col("value").str.replace(UNIT_BEHIND, ""),
    )  # fmt: skip


def _plain_unit(text: str) -> str:
    return folded(text).replace("_", " ").strip(" ()[].")


def _with_meanings(read: pl.DataFrame, meanings: dict[str, Meaning]) -> pl.DataFrame:
    if not meanings:
        return read.with_columns(meant=pl.lit(""), bound=pl.lit(None, dtype=pl.Float64))
    kinds = {text: meaning.range for text, meaning in meanings.items()}
    bounds = {text: meaning.bound_mg_dl for text, meaning in meanings.items()}
    return read.with_columns(
        meant=pl.col("value").replace_strict(kinds, default="", return_dtype=pl.String),
        bound=pl.col("value").replace_strict(bounds, default=None, return_dtype=pl.Float64),
    )


def _meanings(
    texts: list[str], part: Glucose, scale: float, decimal: str, settings: IntakeSettings, words: HeaderWords
) -> dict[str, Meaning]:
    below = {folded(word) for word in (*words.range["below"], *part.below)}
    above = {folded(word) for word in (*words.range["above"], *part.above)}
    nothing = {folded(word) for word in (*words.range["none"], *part.no_value)}
    below_bound = settings.below_range_mg_dl if part.floor is None else part.floor * scale
    above_bound = settings.above_range_mg_dl if part.ceiling is None else part.ceiling * scale
    found = {}
    for text in texts:
        word = folded(text)
        if word in below:
            found[text] = Meaning(Range.BELOW.value, below_bound)
        elif word in above:
            found[text] = Meaning(Range.ABOVE.value, above_bound)
        elif word in nothing:
            found[text] = Meaning("none")
        else:
            found[text] = _compared(word, scale, decimal)
    return found


def _compared(word: str, scale: float, decimal: str) -> Meaning:
    """'< 40' and '> 22,2': the true value lies beyond the bound."""
    match = _COMPARED.fullmatch(word)
    bound = read_number(match[2], decimal) if match else None
    if match is None or bound is None:
        return Meaning("odd")
    return Meaning(Range.BELOW.value if match[1][0] in "<≤" else Range.ABOVE.value, bound * scale)
