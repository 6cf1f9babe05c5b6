"""Single treatments of a made-up person whose factor is known."""

from datetime import timedelta

import numpy as np
import polars as pl
import pytest
from support.measuring import measure
from support.path_people import APART, GRAMS, SETTINGS, START, events_frame, life, predict, untreated


def factors(inputs, screened):
    return measure(inputs, screened, SETTINGS, with_paths=False).frame["factor_hat_mg_dl_per_g"].to_numpy()


@pytest.mark.parametrize("factor", [5.0, 8.0, 14.0])
def test_the_factor_that_was_put_in_is_found(factor):
    assert np.median(factors(*life(factor=factor, treatments=12))) == pytest.approx(factor, rel=0.15)


def test_a_rise_on_a_falling_path_is_more_than_what_is_seen():
    inputs, screened = life(factor=8.0, treatments=8)
    frame = measure(inputs, screened, SETTINGS).frame
    after = pl.col("at_utc").is_between(START + timedelta(minutes=20), START + timedelta(minutes=75))
    seen = inputs.readings.filter(after)["glucose_mg_dl"].max() - 72.0
    assert frame["rise_estimated_mg_dl"].median() > seen


def test_two_doses_half_an_hour_apart_count_as_both():
    found = factors(*life(grams=(GRAMS / 2, GRAMS / 2), at=(0, 30), treatments=8))
    assert np.median(found) == pytest.approx(8.0, rel=0.2)


def test_a_log_behind_the_glucose_misleads_less_when_other_times_are_tried():
    inputs, screened = life(late=12, treatments=8)
    one_time = SETTINGS.model_copy(update={"dose_shift_min": (0,), "score_shift_min": (0,)})
    trusted = measure(inputs, screened, one_time, with_paths=False).frame["factor_hat_mg_dl_per_g"].median()
    tried = np.median(factors(inputs, screened))
    assert abs(tried - 8.0) < abs(trusted - 8.0)
    assert tried == pytest.approx(8.0, rel=0.25)
    assert tried == pytest.approx(np.median(factors(*life(treatments=8))), rel=0.15)


def test_a_fifteen_minute_sensor_says_the_same_with_more_doubt():
    fine, coarse = life(treatments=8), life(treatments=8, step=15)
    fine_frame = measure(*fine, SETTINGS, with_paths=False).frame
    coarse_frame = measure(*coarse, SETTINGS, with_paths=False).frame
    assert coarse_frame["factor_hat_mg_dl_per_g"].median() == pytest.approx(8.0, rel=0.25)
    assert coarse_frame["factor_var"].median() > fine_frame["factor_var"].median()


def test_a_sensor_that_reads_every_minute_says_the_same():
    every_minute, every_five = (np.median(factors(*life(treatments=6, step=step))) for step in (1, 5))
    assert every_minute == pytest.approx(8.0, rel=0.2)
    assert every_minute == pytest.approx(every_five, rel=0.1)


def test_readings_below_the_sensors_range_still_tell_that_the_level_was_low():
    def low(minutes):
        return untreated(minutes, fall=1.0) - 16.0

    bounded = measure(*life(level=low, treatments=8), SETTINGS, with_paths=False).frame
    assert bounded.height == 8
    assert bounded["factor_hat_mg_dl_per_g"].median() == pytest.approx(8.0, rel=0.3)


def test_without_readings_before_the_glucose_nothing_is_measured():
    inputs, screened = life(treatments=1)
    late = screened.with_columns(window_from_utc=pl.col("first_dose_utc") - timedelta(minutes=4))
    assert measure(inputs, late, SETTINGS).frame.height == 0


def test_nothing_is_measured_on_the_first_quarter_of_an_hour():
    inputs, screened = life(treatments=1)
    short = screened.with_columns(window_to_utc=pl.col("first_dose_utc") + timedelta(minutes=20))
    assert measure(inputs, short, SETTINGS).frame.height == 0


def test_a_treatment_set_aside_is_drawn_but_teaches_nothing():
    inputs, screened = life(treatments=6)
    aside = screened.with_columns(
        verdict=pl.when(pl.int_range(pl.len()) == 0).then(pl.lit("set_aside")).otherwise(pl.col("verdict"))
    )
    found = measure(inputs, aside, SETTINGS)
    assert found.frame["verdict"].to_list().count("set_aside") == 1
    assert found.paths.filter(pl.col("first_dose_utc") == START).height > 0
    others = measure(inputs, aside[1:], SETTINGS)
    assert found.weights == pytest.approx(others.weights, abs=1e-6)


def test_without_a_treatment_there_is_nothing_and_no_error():
    inputs, screened = life(treatments=1)
    assert measure(inputs, screened[:0], SETTINGS).frame.height == 0
    assert predict(inputs, screened[:0]).untreated_mg_dl.shape == (0, 2)


def test_the_drawn_path_stands_every_five_minutes_and_meets_the_readings_with_the_rise():
    inputs, screened = life(treatments=3)
    paths = measure(inputs, screened, SETTINGS).paths.filter(pl.col("first_dose_utc") == START)
    assert (paths["at_utc"].diff().drop_nulls() == timedelta(minutes=5)).all()
    assert (paths["untreated_sd_mg_dl"] > 0).all()
    seen = paths.join(inputs.readings, on="at_utc")
    assert (seen["fitted_mg_dl"] - seen["glucose_mg_dl"]).abs().mean() < 6.0
    after = paths.filter(pl.col("at_utc") >= START + timedelta(minutes=40))
    assert (after["fitted_mg_dl"] > after["untreated_mg_dl"] + 10).all()


def test_a_prediction_looks_at_nothing_after_the_first_dose():
    inputs, screened = life(treatments=3)
    early = inputs.readings.with_columns(
        glucose_mg_dl=pl.when(pl.col("at_utc") > START + 2 * APART).then(250.0).otherwise(pl.col("glucose_mg_dl"))
    )
    changed = type(inputs)(inputs.person, early, doses=inputs.doses)
    before, after = predict(inputs, screened), predict(changed, screened)
    assert after.untreated_mg_dl[-1] == pytest.approx(before.untreated_mg_dl[-1])


def test_a_prediction_heads_where_the_level_was_heading():
    inputs, screened = life(treatments=6, factor=0.0)
    ahead = predict(inputs, screened)
    sd = np.sqrt(ahead.untreated_var[:, 0])
    assert np.all(np.abs(ahead.untreated_mg_dl[:, 0] - untreated(np.array([30]))) < 2.5 * sd)
    assert np.all(ahead.response_g[:, 1] > ahead.response_g[:, 0])


def test_insulin_logged_shortly_before_makes_the_same_readings_a_larger_rise():
    inputs, screened = life(treatments=4)
    boluses = [(START + n * APART - timedelta(minutes=30), 2.0) for n in range(4)]
    logged = type(inputs)(inputs.person, inputs.readings, doses=inputs.doses, events=events_frame("insulin", boluses))
    assert np.median(factors(logged, screened)) > np.median(factors(inputs, screened))


def test_the_same_inputs_give_the_same_numbers():
    first, second = measure(*life(), SETTINGS), measure(*life(), SETTINGS)
    assert first.frame.equals(second.frame)
    assert first.paths.equals(second.paths)


def test_without_any_reading_nothing_is_measured_and_nothing_breaks():
    inputs, screened = life(treatments=2)
    blind = type(inputs)(inputs.person, doses=inputs.doses)
    assert measure(blind, screened, SETTINGS).frame.height == 0
    assert predict(blind, screened).untreated_mg_dl.shape == (0, 2)


def test_an_unknown_weight_leaves_the_factor_where_it_was():
    inputs, screened = life(treatments=8)
    unknown = screened.with_columns(weight_kg=pl.lit(None, dtype=pl.Float64))
    assert np.median(factors(inputs, unknown)) == pytest.approx(8.0, rel=0.35)


def test_an_amount_nobody_wrote_down_is_not_measured():
    inputs, screened = life(treatments=1)
    unknown = inputs.doses.with_columns(grams=pl.lit(None, dtype=pl.Float64))
    assert measure(type(inputs)(inputs.person, inputs.readings, doses=unknown), screened, SETTINGS).frame.height == 0


def test_food_eaten_before_widens_the_doubt():
    inputs, screened = life(treatments=4)
    meals = [(START + n * APART - timedelta(minutes=60), 40.0) for n in range(4)]
    fed = type(inputs)(inputs.person, inputs.readings, doses=inputs.doses, events=events_frame("food", meals))
    plain = measure(inputs, screened, SETTINGS, with_paths=False).frame
    with_food = measure(fed, screened, SETTINGS, with_paths=False).frame
    assert with_food["factor_var"].median() > plain["factor_var"].median()
