"""Readings that stand between known ones: another sensor's, or another person's, told for other minutes."""

from typing import Final

import polars as pl
from sqlalchemy import Connection, select

from gramrise.store import schema
from gramrise.store.instants import MICROSECONDS_IN_A_MINUTE

# Known readings before and after say what stood between them where they are at most so many minutes apart. Our choice:
# the step of a 15-minute sensor, and a minute for its clock.
REACH_MINUTES: Final = 16
# Nearer to a known one it is the same reading, told with other seconds. Our choice.
SAME_MINUTES: Final = 1
# Between two known ones so near no sensor with a step of five minutes tells another reading of its own.
DENSE_MINUTES: Final = 6.5
NOTHING: Final = pl.DataFrame(
    schema={"at_utc": pl.Int64, "told": pl.Float64, "expected": pl.Float64, "dense": pl.Boolean}
)


def between_known(connection: Connection, added: pl.DataFrame, person_id: str, import_id: int) -> pl.DataFrame:
    """`at_utc`, `told` and `expected` mg/dL of each new reading that stands between two that other imports brought.

    added  stored frame of new readings; expected: the straight line between the known ones before and after; dense:
           those are within one step of a sensor
    """
    if added.height == 0:
        return NOTHING
    reach = REACH_MINUTES * MICROSECONDS_IN_A_MINUTE
    low, high = added.select(low=pl.col("at_utc").min() - reach, high=pl.col("at_utc").max() + reach).row(0)
    table = schema.readings
    near = select(table.c.at_utc, table.c.glucose_mg_dl, table.c.import_id).where(
        table.c.person_id == person_id, table.c.at_utc.between(low, high), table.c.import_id.is_distinct_from(import_id)
    )
    rows = [(row.at_utc, row.glucose_mg_dl) for row in connection.execute(near.order_by(table.c.at_utc))]
    if len(rows) < 2:
        return NOTHING
    known = pl.DataFrame(rows, schema={"at": pl.Int64, "level": pl.Float64}, orient="row")
    known = known.with_columns(pl.col("at").set_sorted())
    told = added.select("at_utc", told=pl.col("glucose_mg_dl")).sort("at_utc")
    before = known.select(at_before="at", before="level").with_columns(pl.col("at_before").set_sorted())
    after = known.select(at_after="at", after="level").with_columns(pl.col("at_after").set_sorted())
    both = told.join_asof(before, left_on="at_utc", right_on="at_before", strategy="backward").join_asof(
        after, left_on="at_utc", right_on="at_after", strategy="forward"
    )
    since, until = pl.col("at_utc") - pl.col("at_before"), pl.col("at_after") - pl.col("at_utc")
    near_one = pl.min_horizontal(since, until) <= SAME_MINUTES * MICROSECONDS_IN_A_MINUTE
    expected = pl.col("before") + (pl.col("after") - pl.col("before")) * since / (since + until)
    dense = since + until <= DENSE_MINUTES * MICROSECONDS_IN_A_MINUTE
    return both.filter((since + until <= reach) & ~near_one).select("at_utc", "told", expected=expected, dense=dense)
