"""Insulin, food, and other events of a table."""

import re

import polars as pl

from gramrise.connectors.layout import Food, Happening, Insulin, Part
from gramrise.domain.frames import EVENTS
from gramrise.intake.cells import read_times
from gramrise.intake.files import ROW
from gramrise.intake.rows.table_rows import TableRows
from gramrise.intake.words import folded

_LONGEST_DENIAL = 30  # letters; our choice: a longer text tells something
_DENY_A_PART = {"not", "nicht", "pas"}  # 'not much' was something
_NO_AMOUNT = pl.lit(None, dtype=pl.Float64)


def insulin_events(rows: TableRows, part: Insulin) -> pl.DataFrame:
    """EVENTS of insulin, in units."""
    given = rows.numbers(part, part.units, "insulin").with_columns(amount=pl.col("number"))
    good = _screened(rows, given, part.units, rows.context.settings.most_insulin_units)
    return _events(rows, good, "insulin", part.note)


def food_events(rows: TableRows, part: Food) -> pl.DataFrame:
    """EVENTS of food with a number: grams of carbohydrate, or no amount where the layout says they are not known."""
    eaten = rows.numbers(part, part.grams, "gram").with_columns(amount=pl.col("number") * part.grams_per_portion)
    good = _screened(rows, eaten, part.grams, rows.context.settings.most_carbohydrate_g)
    return _events(rows, good if part.amount_known else good.with_columns(amount=_NO_AMOUNT), "food", part.note)


def _screened(rows: TableRows, amounts: pl.DataFrame, name: str, most: float) -> pl.DataFrame:
    """The good amounts. A zero says that nothing was given, and counts as blank."""
    amount = pl.col("amount")
    code = (
        pl.when((pl.col("value") == "") | (amount == 0)).then(pl.lit("blank"))
        .when(amount.is_null()).then(pl.lit("not_a_number"))
        .when(~amount.is_between(0, most)).then(pl.lit("amount_implausible"))
        .otherwise(rows.code_of_another())
    )  # fmt: skip
    return rows.screen(amounts.with_columns(code=code), rows.label(name))


def worded_events(rows: TableRows, part: Part) -> pl.DataFrame:
    """EVENTS without an amount: rows with a text, or every row that the part's `when` has chosen."""
    happening = part if isinstance(part, Happening) else None
    text = (happening.text if happening else "") or part.note
    worded = rows.of_part(part).with_columns(value=rows.text(text, may_lack=True), amount=_NO_AMOUNT)
    every_row = happening is not None and part.when is not None
    blank = pl.when(nothing_happened(rows, rows.text(text, may_lack=True))).then(pl.lit("blank")).otherwise(pl.lit(""))
    good = rows.screen(worded.with_columns(code=pl.lit("") if every_row else blank), text)
    if happening and happening.until and rows.table.column(happening.until) is not None:
        good = good.with_columns(until_utc=_ends(rows, happening.until, good))
    return _events(rows, good, part.kind, text)


def nothing_happened(rows: TableRows, value: pl.Expr) -> pl.Expr:
    """Whether a cell of what happened is empty, or says that nothing did: 'no', '-', '0', 'skipped', 'keine Mahlzeit'.

    value  a column of the rows, trimmed
    """
    words = rows.context.words
    denied = {"", *map(folded, words.states["nothing"])}
    deny = "|".join(sorted(set(map(folded, words.amounts["negation"])) - _DENY_A_PART))
    alone = re.compile(rf"(?:{deny}) [a-z]+")
    texts = rows.frame.select(value.alias("text"))["text"].unique()
    short = {text: folded(text) for text in texts.filter(texts.str.len_chars() <= _LONGEST_DENIAL).to_list()}
    return value.is_in([text for text, plain in short.items() if plain in denied or alone.fullmatch(plain)])


def _ends(rows: TableRows, name: str, good: pl.DataFrame) -> pl.Series:
    """The instants of a second column of times, written as the first is; null where there is no such time."""
    clock = rows.clock.model_copy(update={"columns": (name,), "offset_column": "", "day_carried": False})
    cells = good.select(ROW, *(str(column) for column in range(rows.table.width)))
    ends = read_times(rows.table.with_cells(cells), clock, rows.context).frame
    return ends.select(pl.when(pl.col("no_time") == "").then(pl.col("at_utc"))).to_series().alias("until_utc")


def _events(rows: TableRows, good: pl.DataFrame, kind: str, text_column: str) -> pl.DataFrame:
    if "until_utc" not in good.columns:
        good = good.with_columns(until_utc=pl.lit(None, dtype=EVENTS.schema["until_utc"]))
    return good.with_columns(
        person_id=pl.lit(rows.context.person.person_id),
        kind=pl.lit(kind),
        text=rows.text(text_column, may_lack=True),
    ).select(EVENTS.schema.keys())
