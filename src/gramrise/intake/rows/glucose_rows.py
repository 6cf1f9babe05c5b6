"""Glucose values of a table: readings of a sensor, or finger-sticks."""

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from gramrise.connectors.layout import FileShape, Glucose
from gramrise.domain.frames import FINGERS, READINGS, FrameContract
from gramrise.domain.units import MG_DL_PER_MMOL_L, GlucoseUnit
from gramrise.domain.words import Range
from gramrise.intake.cells.numbers import numbers_of, read_number
from gramrise.intake.cells.unit_suffixes import UNIT_BEHIND
from gramrise.intake.files.text_table import ROW
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.words import HeaderWords, folded

if TYPE_CHECKING:
    from gramrise.intake.rows.table_reader import TableReader

_COMPARED = re.compile(r"([<>≤≥]|<=|>=)\s*(\S+)\s*(?:mg/dl|mmol/l)?")


@dataclass(frozen=True, slots=True)
class Meaning:
    """What stands for a value outside the range, in mg/dL where a bound is said."""

    range: str  # below | above | none (no reading) | odd
    bound_mg_dl: float | None = None


def glucose_rows(
    frame: pl.DataFrame, part: Glucose, file: FileShape, settings: IntakeSettings, words: HeaderWords
) -> pl.DataFrame:
    """Adds glucose_mg_dl, range and code to rows with text columns `value` and `unit_beside` ('' where there is none).

    A unit in the row itself, behind the number or in a column of its own, goes before that of the column.
    code  '' good | 'blank' nothing there | 'not_a_number' | 'glucose_implausible'
    """
    scale = MG_DL_PER_MMOL_L if part.unit == GlucoseUnit.MMOL_L.value else 1.0
    read = _with_own_units(frame, scale)
    numbers = numbers_of(read["value"], file.decimal, file.thousands)
    read = read.with_columns(number=numbers if part.unit == GlucoseUnit.MG_DL.value and (read["scale"] == 1.0).all()
                             else numbers * read["scale"])  # fmt: skip
    number = pl.col("number")
    plausible = number.is_between(settings.least_glucose_mg_dl, settings.most_glucose_mg_dl)
    plain = part.floor is None and part.ceiling is None and read["number"].null_count() == 0
    if plain and read.select(plausible.all()).item():
        return read.with_columns(number.alias("glucose_mg_dl"), range=pl.lit(Range.IN.value), code=pl.lit(""))
    odd = read["number"].is_null() & (read["value"] != "")
    meanings = _meanings(read.filter(odd)["value"].unique().to_list(), part, scale, file.decimal, settings, words)
    read = _with_meanings(read, meanings)
    floor = None if part.floor is None else part.floor * scale
    ceiling = None if part.ceiling is None else part.ceiling * scale
    at_floor = number <= floor + 1e-9 if floor is not None else pl.lit(False)
    at_ceiling = number >= ceiling - 1e-9 if ceiling is not None else pl.lit(False)
    meant = pl.col("meant")
    return read.with_columns(
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


def _with_own_units(frame: pl.DataFrame, scale: float) -> pl.DataFrame:
    """`value` without a unit behind it, and `scale` to mg/dL: the row's own unit's, else the column's."""
    behind = pl.col("value").str.extract(UNIT_BEHIND).str.to_lowercase()
    beside = pl.col("unit_beside").str.to_lowercase()
    if not frame["value"].str.contains("/", literal=True).any() and (frame["unit_beside"] == "").all():
        return frame.with_columns(scale=pl.lit(scale))
    unit = pl.coalesce(behind, beside)
    return frame.with_columns(
        scale=pl.when(unit.str.starts_with("mmol")).then(MG_DL_PER_MMOL_L)
        .when(unit.str.starts_with("mg")).then(1.0).otherwise(scale),
        value=pl.col("value").str.replace(UNIT_BEHIND, ""),
    )  # fmt: skip


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


def take_glucose(reader: "TableReader", part: Glucose, rows: pl.DataFrame) -> None:
    """Adds the glucose values of a table's rows to what the reader has taken, one an instant."""
    label = reader.table.label(reader.column(part.value))
    unit = reader.text(part.unit_column, may_lack=True)
    rows = reader.with_value(rows, part.value).with_columns(unit_beside=unit)
    rows = glucose_rows(rows, part, reader.layout.file, reader.settings, reader.words)
    good = reader.judged(rows, label)
    good = _one_an_instant(reader, good, label)
    contract = READINGS if part.kind == "readings" else FINGERS
    named = good.with_columns(person_id=pl.lit(reader.person.person_id)).select(contract.schema.keys())
    before = reader.taken.readings if part.kind == "readings" else reader.taken.fingers
    if before.height:  # two columns of one kind: the first one's value stands where both have one
        both = pl.concat([before, named])
        joined = contract.check(both.unique("at_utc", keep="first", maintain_order=True))
        reader.taken.rows_repeated += both.height - joined.height
    else:
        joined = _in_order(contract, named)
    if part.kind == "readings":
        reader.taken.readings = joined
    else:
        reader.taken.fingers = joined


def _in_order(contract: FrameContract, frame: pl.DataFrame) -> pl.DataFrame:
    """The frame as its contract wants it; rows of one person that stand in order of time need no sorting."""
    contract.check(frame.clear())
    steps = frame["at_utc"].to_physical().diff().drop_nulls()
    return frame if (steps > 0).all() else contract.check(frame)


def _one_an_instant(reader: "TableReader", good: pl.DataFrame, label: str) -> pl.DataFrame:
    """One row an instant: equal ones are repeats, unequal ones are set aside, the first stays."""
    steps = good["at_utc"].to_physical().diff().drop_nulls()
    if (steps > 0).all() or (steps < 0).all():
        return good
    first = good["at_utc"].is_first_distinct()
    kept, again = good.filter(first), good.filter(~first)
    if again.height == 0:
        return good
    values = kept.select("at_utc", first_value="glucose_mg_dl", first_range="range")
    both = again.join(values, on="at_utc", how="left", maintain_order="left")
    same = (pl.col("glucose_mg_dl") == pl.col("first_value")) & (pl.col("range") == pl.col("first_range"))
    reader.taken.rows_repeated += both.filter(same).height
    unequal = both.filter(~same)
    reader.quarantine.add(unequal.select(ROW, code=pl.lit("two_values"), found="value"), label)
    return kept
