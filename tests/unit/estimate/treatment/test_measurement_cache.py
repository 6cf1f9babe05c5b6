"""Treatments that stand from earlier nights: not measured again, and the answer is the same to the last digit."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal
from support.path_people import APART, GRAMS, START, life

from gramrise.domain.frames import LOWS
from gramrise.domain.kept import Kept
from gramrise.domain.person import Dated
from gramrise.estimate import estimate, estimate_settings
from gramrise.estimate.path.windows import ThinnedTrace
from gramrise.estimate.treatment.measurement_cache import standing

SETTINGS = estimate_settings()
TREATMENTS = 9
NOW = START + TREATMENTS * APART
NOON = START.replace(hour=0) + timedelta(days=2)  # what is told from here on is new
TOLERANCE = 1e-12  # of each number: what is kept is what measuring gives


@pytest.fixture(scope="module")
def whole():
    return life(treatments=TREATMENTS)


def found(inputs, screened, at=NOW, kept=None, settings=SETTINGS):
    return estimate(inputs, screened.drop("weight_kg"), LOWS.empty(), at, settings, kept)


def kept_of(result, until=NOON):
    return Kept(until, {each.first_dose_us: (each.key, each.numbers) for each in result.to_keep.treatments})


def stand_n(inputs, screened, kept, at=NOW, settings=SETTINGS):
    return standing(inputs.person, inputs.doses, screened.drop("weight_kg"), at, settings, kept).stand_n


def assert_same(one, other):
    for name in ("pairings", "factors", "predictions"):
        assert_frame_equal(getattr(one, name), getattr(other, name), rel_tol=TOLERANCE, abs_tol=TOLERANCE)


def test_with_or_without_what_an_earlier_night_left_the_answer_is_the_same(whole):
    inputs, screened = whole
    before = found(inputs, screened, at=NOON)
    one, other = found(inputs, screened, kept=kept_of(before)), found(inputs, screened)
    assert_same(one, other)
    assert 0 < stand_n(inputs, screened, kept_of(before)) < TREATMENTS
    drawn = other.paths.filter(pl.col("first_dose_utc").is_in(one.paths["first_dose_utc"].unique().implode()))
    assert_frame_equal(one.paths, drawn)


def test_what_is_kept_after_two_nights_is_what_one_look_leaves(whole):
    inputs, screened = whole
    first = found(inputs, screened, at=NOON).to_keep
    second = found(inputs, screened, kept=kept_of(found(inputs, screened, at=NOON))).to_keep
    stands = tuple(each for each in first.treatments if each.first_dose_us < second.from_us)
    assert stands + second.treatments == found(inputs, screened).to_keep.treatments


def test_old_readings_are_not_even_looked_at(whole):
    inputs, screened = whole
    kept = kept_of(found(inputs, screened, at=NOON))
    since = standing(inputs.person, inputs.doses, screened, NOW, SETTINGS, kept).inputs_from_utc
    late = replace(inputs, readings=inputs.readings.filter(pl.col("at_utc") >= since))
    assert_same(found(late, screened, kept=kept), found(inputs, screened))


def test_a_treatment_on_a_day_that_was_not_over_is_measured_anew(whole):
    inputs, screened = whole
    result = found(inputs, screened, at=NOON + timedelta(hours=11))
    some = stand_n(inputs, screened, kept_of(result, NOON + timedelta(hours=11)))
    assert some == stand_n(inputs, screened, kept_of(result, NOON))
    assert stand_n(inputs, screened, kept_of(result, NOON - timedelta(minutes=1))) < some


@pytest.mark.parametrize("what", ["grams", "window", "verdict", "weight", "settings", "another treatment"])
def test_whatever_is_changed_in_a_treatment_it_is_measured_anew_and_all_after_it(whole, what):
    inputs, screened = whole
    kept, settings = kept_of(found(inputs, screened)), SETTINGS
    kept = replace(kept, until_utc=NOW + timedelta(days=2))
    assert stand_n(inputs, screened, kept) == TREATMENTS - 1  # the last day is always measured
    third = pl.col("first_dose_utc") == START + 2 * APART
    if what == "grams":
        more = pl.when(pl.col("taken_at_utc") == START + 2 * APART).then(GRAMS + 1).otherwise("grams")
        inputs = replace(inputs, doses=inputs.doses.with_columns(grams=more))
    elif what == "window":
        cut = pl.col("window_to_utc") - timedelta(minutes=10)
        screened = screened.with_columns(window_to_utc=pl.when(third).then(cut).otherwise("window_to_utc"))
    elif what == "verdict":
        aside = pl.when(third).then(pl.lit("set_aside")).otherwise("verdict")
        screened = screened.with_columns(verdict=aside)
    elif what == "another treatment":
        screened = screened.filter(~third)
    elif what == "weight":
        weighed = Dated((((START + 2 * APART).date(), 40.0),))
        inputs = replace(inputs, person=replace(inputs.person, weights_kg=weighed))
    else:
        settings = SETTINGS.model_copy(update={"path": SETTINGS.path.model_copy(update={"tail_min": 95.0})})
    expected = 0 if what in ("weight", "settings") else 2
    assert stand_n(inputs, screened, kept, settings=settings) == expected
    one, other = (found(inputs, screened, kept=which, settings=settings) for which in (kept, None))
    assert_same(one, other)


def test_a_clock_set_back_takes_nothing_from_later(whole):
    inputs, screened = whole
    kept = kept_of(found(inputs, screened), until=NOW)
    assert_same(found(inputs, screened, at=NOON, kept=kept), found(inputs, screened, at=NOON))


def test_a_minute_sensor_is_thinned_day_by_day_whatever_other_days_are_read():
    often, _ = life(treatments=1, step=1)
    seldom, _ = life(treatments=4, step=5)
    late = often.readings.with_columns(pl.col("at_utc") + timedelta(days=3))
    both = pl.concat([seldom.readings, late]).sort("at_utc")
    whole, part = (
        ThinnedTrace.of(both, 5),
        ThinnedTrace.of(both.filter(pl.col("at_utc") >= START + timedelta(days=2)), 5),
    )
    rows = np.isin(whole.at, part.at)
    assert part.at.size > 50
    assert np.array_equal(whole.at[rows], part.at)
    assert np.median(np.diff(part.at)) == 5
