"""Body weights of a table."""

from typing import TYPE_CHECKING

import polars as pl

from gramrise.connectors import layout as shape
from gramrise.domain.frames import WEIGHTS
from gramrise.domain.units import KG_PER_LB
from gramrise.intake.rows.weight_questions import weight_questions

if TYPE_CHECKING:
    from gramrise.intake.rows.table_reader import TableReader


def take_weights(reader: "TableReader", part: shape.Weight, rows: pl.DataFrame) -> None:
    """Adds the weights of a table's rows; a day alone is precise enough. Several a day: the last stands."""
    column = reader.column(part.value)
    label = reader.table.label(column)
    scale = KG_PER_LB if part.unit == "lb" else 1.0
    rows = reader.with_number(rows, part.value, part.unit).with_columns(kg=pl.col("number") * scale)
    kg = pl.col("kg")
    code = (
        pl.when(pl.col("value") == "").then(pl.lit("blank"))
        .when(kg.is_null()).then(pl.lit("not_a_number"))
        .when(~kg.is_between(reader.settings.least_weight_kg, reader.settings.most_weight_kg))
        .then(pl.lit("weight_implausible")).otherwise(pl.lit(""))
    )  # fmt: skip
    a_day = pl.col("no_time").is_in(["no_time_of_day", "no_such_local_time"])
    rows = rows.with_columns(code=code, no_time=pl.when(a_day).then(pl.lit("")).otherwise(pl.col("no_time")))
    good = reader.judged(rows, label, unsure_is_bad=False)
    named = good.select(person_id=pl.lit(reader.person.person_id), on=pl.col("local").dt.date(), kg=pl.col("kg"))
    weights = pl.concat([reader.taken.weights, named]).unique("on", keep="last", maintain_order=True)
    reader.taken.rows_repeated += reader.taken.weights.height + named.height - weights.height
    reader.taken.weights = WEIGHTS.check(weights)
    reader.taken.questions += weight_questions(
        dict(reader.taken.weights.select("on", "kg").iter_rows()), reader.person, reader.settings
    )
