"""Body weights of a table."""

import polars as pl

from gramrise.connectors.layout import Weight
from gramrise.domain.units import KG_PER_LB
from gramrise.intake.rows.table_rows import TableRows


def weight_rows(rows: TableRows, part: Weight) -> pl.DataFrame:
    """WEIGHTS of a table's rows, in their order. A day alone is precise enough."""
    settings = rows.context.settings
    scale = KG_PER_LB if part.unit == "lb" else 1.0
    weighed = rows.numbers(part, part.value, part.unit).with_columns(kg=pl.col("number") * scale)
    kg = pl.col("kg")
    code = (
        pl.when(pl.col("value") == "").then(pl.lit("blank"))
        .when(kg.is_null()).then(pl.lit("not_a_number"))
        .when(~kg.is_between(settings.least_weight_kg, settings.most_weight_kg)).then(pl.lit("weight_implausible"))
        .otherwise(pl.lit(""))
    )  # fmt: skip
    a_day = pl.col("no_time").is_in(["no_time_of_day", "no_such_local_time"])
    weighed = weighed.with_columns(code=code, no_time=pl.when(a_day).then(pl.lit("")).otherwise(pl.col("no_time")))
    good = rows.screen(weighed, rows.label(part.value))
    return good.select(person_id=pl.lit(rows.context.person.person_id), on=pl.col("local").dt.date(), kg=pl.col("kg"))
