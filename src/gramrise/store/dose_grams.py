"""Grams of a dose from its amount and the strength its source had on that day."""

from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta

import polars as pl
from sqlalchemy import Connection, func, select

from gramrise.domain.mixtures import MixedBatch
from gramrise.domain.person import Person, zone_on
from gramrise.domain.sources import AmountUnit, Form, Source
from gramrise.store import schema


def with_grams(doses: pl.DataFrame, person: Person) -> pl.DataFrame:
    """Doses whose grams, form and doubt follow the person's dated sources; a corrected strength corrects them all.

    A dose without a source keeps what its log says, and so do grams of a source that is not stated. Its pieces and mL
    have no grams: their strength was taken back.
    doses   frame of the contract; returned with the same columns and order
    """
    entries = person.sources.entries
    if doses.height == 0:
        return doses
    day = pl.col("taken_at_utc").dt.convert_time_zone(person.zone_now().key).dt.date()
    columns = {name: pl.col(name) for name in ("grams", "form", "may_be_weaker")}
    told: set[str] = set()
    for at, (since, sources) in enumerate(entries):
        before_the_next = day < entries[at + 1][0] if at + 1 < len(entries) else pl.lit(True)
        for source in sources:
            first = source.name not in told  # the first strength told of a source holds for the days before it
            told.add(source.name)
            _follow(columns, before_the_next if first else before_the_next & (day >= since), source)
    stated = ["", *told]
    counted = pl.col("amount_unit").is_in([str(AmountUnit.PIECE), str(AmountUnit.ML)])
    columns["grams"] = pl.when(counted & ~pl.col("source").is_in(stated)).then(None).otherwise(columns["grams"])
    return doses.with_columns(**columns)


def of_no_source(connection: Connection, person: Person) -> dict[str, int]:
    """By name of a source that is stated on no day: how many pieces or mL of it are logged."""
    stated = {source.name for _, told in person.sources.entries for source in told}
    table = schema.doses.c
    counted = table.amount_unit.in_([str(AmountUnit.PIECE), str(AmountUnit.ML)])
    mine = (table.person_id == person.person_id, counted, table.source.not_in(["", *stated]))
    rows = connection.execute(select(table.source, func.count()).where(*mine).group_by(table.source))
    return {row[0]: row[1] for row in rows}


def _follow(columns: dict[str, pl.Expr], holds: pl.Expr, source: Source) -> None:
    mine = holds & (pl.col("source") == source.name)
    counted = mine & (pl.col("amount_unit") == str(source.unit)) & pl.col("amount").is_not_null()
    weighed = mine & (pl.col("amount_unit") == str(AmountUnit.GRAM)) & pl.col("amount").is_not_null()
    stated_gram = source.grams(1.0, AmountUnit.GRAM)
    columns["grams"] = (
        pl.when(counted)
        .then(pl.col("amount") * source.glucose_per_unit_g)
        .when(weighed)
        .then(pl.col("amount") * stated_gram)
        .otherwise(columns["grams"])
    )
    columns["form"] = pl.when(mine).then(pl.lit(str(source.form))).otherwise(columns["form"])
    columns["may_be_weaker"] = pl.when(mine).then(pl.lit(source.may_be_weaker)).otherwise(columns["may_be_weaker"])


def with_batches(doses: pl.DataFrame, batches: Sequence[MixedBatch], person: Person) -> pl.DataFrame:
    """Doses in mL of a source that was mixed at home: each has the strength of the batch it was taken from.

    A batch holds from the instant it was mixed until the next of its source; a dose from before the first keeps the
    strength that was stated, on the day of that batch too: the strength stated with a batch is dated by the day alone.
    Where nobody knows a batch's strength the grams are unknown, too.
    doses    frame of the contract; returned with the same columns and order
    batches  of this person, in order of time
    """
    if doses.height == 0 or not batches:
        return doses
    columns = {name: pl.col(name) for name in ("grams", "form", "may_be_weaker")}
    for first in {batch.source: batch for batch in reversed(batches)}.values():
        _as_the_day_before(columns, first, person)
    for batch in batches:  # a later batch is laid over an earlier one
        taken = (pl.col("source") == batch.source) & (pl.col("taken_at_utc") >= batch.mixed_at_utc)
        hit = taken & (pl.col("amount_unit") == str(AmountUnit.ML)) & pl.col("amount").is_not_null()
        grams = (
            pl.lit(None, pl.Float64) if batch.strength_g_per_ml is None else pl.col("amount") * batch.strength_g_per_ml
        )
        columns["grams"] = pl.when(hit).then(grams).otherwise(columns["grams"])
        columns["form"] = pl.when(hit).then(pl.lit(str(Form.LIQUID))).otherwise(columns["form"])
        columns["may_be_weaker"] = pl.when(hit).then(pl.lit(False)).otherwise(columns["may_be_weaker"])
    return doses.with_columns(**columns)


def _as_the_day_before(columns: dict[str, pl.Expr], batch: MixedBatch, person: Person) -> None:
    """What was given of a source on the day of its first batch before it was mixed: of the bottle stated before."""
    zone = zone_on(person.zone, batch.mixed_at_utc)
    day = batch.mixed_at_utc.astimezone(zone).date()
    before = person.sources.on(day - timedelta(days=1)) or ()
    stated = next((source for source in before if source.name == batch.source), None)
    if stated is not None:
        begins = datetime.combine(day, time(), zone).astimezone(UTC)
        _follow(columns, pl.col("taken_at_utc").is_between(begins, batch.mixed_at_utc, closed="left"), stated)
