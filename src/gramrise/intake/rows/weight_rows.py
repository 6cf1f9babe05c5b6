"""Body weights of a table."""

import polars as pl

from gramrise.connectors.layout import Weight
from gramrise.domain.units import KG_PER_LB
from gramrise.intake.files import ROW
from gramrise.intake.rows.table_rows import TableRows


def weight_rows(rows: TableRows, part: Weight) -> pl.DataFrame:
    """WEIGHTS of a table's rows, by time. A day alone is precise enough."""
    settings = rows.context.settings
    scale = KG_PER_LB if part.unit == "lb" else 1.0
    weighed = rows.numbers(part, part.value, part.unit).with_columns(kg=pl.col("number") * scale)
    kg, days = pl.col("kg"), (rows.context.earliest_utc.date(), rows.context.latest_utc.date())
    code = (
        pl.when(pl.col("value") == "").then(pl.lit("blank"))
        .when(kg.is_null()).then(pl.lit("not_a_number"))
        .when(~kg.is_between(settings.least_weight_kg, settings.most_weight_kg)).then(pl.lit("weight_implausible"))
        .when(~pl.col("local").dt.date().is_between(*days)).then(pl.lit("time_out_of_range"))
        .otherwise(pl.lit(""))
    )  # fmt: skip
    a_day = pl.col("no_time").is_in(["no_time_of_day", "no_such_local_time"])
    weighed = weighed.with_columns(code=code, no_time=pl.when(a_day).then(pl.lit("")).otherwise(pl.col("no_time")))
    good = _one_a_day(rows, rows.screen(weighed, rows.label(part.value)), rows.label(part.value))
    return good.select(person_id=pl.lit(rows.context.person.person_id), on=pl.col("local").dt.date(), kg=pl.col("kg"))


def _one_a_day(rows: TableRows, good: pl.DataFrame, label: str) -> pl.DataFrame:
    """Of several weights of one day the last stands; the others are named, and where they lie far apart, all are."""
    on = pl.col("local").dt.date()
    ordered = good.with_columns(on=on).sort("local", maintain_order=True)
    if ordered["on"].n_unique() == ordered.height:
        return good
    spread = pl.col("kg").max().over("on") / pl.col("kg").min().over("on") - 1
    far = spread > rows.context.settings.weight_same_day_share
    other = pl.col("kg") != pl.col("kg").last().over("on")
    apart = ordered.filter(far | other)
    rows.quarantine.add(apart.select(ROW, code=pl.lit("two_weights"), found="value"), label)
    return ordered.filter(~far & ~other).drop("on")
