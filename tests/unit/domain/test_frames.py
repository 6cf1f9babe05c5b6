"""A frame that enters a floor holds what it promised, in order, or is refused by name."""

from datetime import UTC, datetime

import polars as pl
import pytest

from gramrise.domain.frames import FINGERS, PAIRINGS, SCREENED, TREATMENTS
from gramrise.domain.problems import ColumnsMissing


def finger(hour, value):
    return {"person_id": "p", "at_utc": datetime(2025, 5, 1, hour, tzinfo=UTC), "glucose_mg_dl": value, "range": "in"}


def test_rows_come_out_sorted_and_columns_not_promised_are_left_behind():
    frame = pl.DataFrame([finger(9, 80.0), finger(8, 70.0)]).with_columns(extra=pl.lit(1))
    checked = FINGERS.check(frame)
    assert checked.columns == list(FINGERS.schema)
    assert checked["glucose_mg_dl"].to_list() == [70.0, 80.0]


def test_a_missing_column_and_a_wrong_type_are_named():
    frame = pl.DataFrame([finger(9, 80.0)]).drop("range").with_columns(pl.col("glucose_mg_dl").cast(pl.String))
    with pytest.raises(ColumnsMissing, match=r"fingers.*missing range.*wrong type glucose_mg_dl"):
        FINGERS.check(frame)


def test_a_naive_time_is_refused():
    with pytest.raises(ColumnsMissing, match="at_utc"):
        FINGERS.check(pl.DataFrame([finger(9, 80.0)]).with_columns(pl.col("at_utc").dt.replace_time_zone(None)))


def test_pairings_hold_all_that_the_screen_said_and_the_screen_all_of_the_treatment():
    assert list(TREATMENTS.schema.items()) == list(SCREENED.schema.items())[: len(TREATMENTS.schema)]
    assert list(SCREENED.schema.items()) == list(PAIRINGS.schema.items())[: len(SCREENED.schema)]
