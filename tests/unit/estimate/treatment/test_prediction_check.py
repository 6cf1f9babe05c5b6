"""Readings predicted before a treatment is learned from."""

from datetime import timedelta

import numpy as np
import polars as pl
import pytest
from support.level_people import NOON, told

from gramrise.domain.frames import READINGS
from gramrise.estimate.path.trace import minutes_of
from gramrise.estimate.settings import shipped
from gramrise.estimate.treatment.prediction_check import (
    ReadingPredictive,
    coverage,
    predicted,
    predictions_frame,
    seen_readings,
)

approx = pytest.approx


def predictive(untreated=60.0, sd=10.0, grams=10.0, grams_sd=0.0, factor=5.0, factor_sd=0.3):
    values = (untreated, sd, grams, grams_sd, np.log(factor), factor_sd)
    return ReadingPredictive(*(np.array([value], dtype=float) for value in values))


def wanted(minutes=30):
    row = {"person_id": ["mia"], "first_dose_utc": [NOON], "minutes_after": pl.Series([minutes], dtype=pl.Int32)}
    return pl.DataFrame(row).with_columns(pl.col("first_dose_utc").cast(pl.Datetime("us", "UTC")))


def readings(*minutes_and_values):
    rows = [("mia", NOON + timedelta(minutes=m), float(v), "in", None) for m, v in minutes_and_values]
    return pl.DataFrame(rows, schema=READINGS.schema, orient="row")


def test_ten_grams_at_five_a_gram_from_sixty_are_expected_at_110():
    median, low, high = predicted(predictive(sd=0.5, factor_sd=0.001))
    assert (median[0], low[0], high[0]) == approx((110, 110 - 1.645 * 0.5, 110 + 1.645 * 0.5), abs=0.1)


def test_the_interval_carries_both_the_path_and_the_factor():
    rng = np.random.default_rng(1)
    drawn = 60 + 10 * rng.normal(size=400_000) + 10 * np.exp(np.log(5) + 0.3 * rng.normal(size=400_000))
    median, low, high = predicted(predictive())
    assert [median[0], low[0], high[0]] == approx(np.quantile(drawn, [0.5, 0.05, 0.95]).tolist(), abs=0.3)


def test_doubt_about_the_time_it_was_swallowed_widens_the_prediction():
    (_, sure_low, sure_high), (_, low, high) = predicted(predictive()), predicted(predictive(grams_sd=3.0))
    assert high - low > sure_high - sure_low


def test_the_reading_nearest_within_five_minutes_is_compared():
    asked, rules = minutes_of(wanted()["first_dose_utc"]) + 30.0, shipped().prediction
    assert seen_readings(asked, readings((27, 101), (32, 104), (60, 150)), rules).tolist() == [104.0]
    assert np.isnan(seen_readings(asked, readings((20, 101), (36, 104)), rules)).all()
    assert np.isnan(seen_readings(asked, READINGS.empty(), rules)).all()


def test_inside_is_unknown_where_nothing_was_seen():
    frame = predictions_frame(wanted().with_columns(seen_mg_dl=pl.lit(None, pl.Float64)), predictive())
    assert frame["inside"].to_list() == [None]
    frame = predictions_frame(wanted().with_columns(seen_mg_dl=pl.lit(200.0)), predictive())
    assert frame["inside"].to_list() == [False]


def test_coverage_counts_the_last_treatments_that_were_seen():
    assert coverage(told([False] * 5 + [True] * 30), 30) == (1.0, 30)
    assert coverage(told([False] * 5 + [True] * 30), 50) == (approx(30 / 35), 35)
    assert coverage(told([True, None, False]), 30) == (0.5, 2)
    assert coverage(told([]), 30) == (None, 0)
