"""Measurements and pictures remembered from earlier nights: not made again, and the answer is the same."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal
from support.path_people import APART, GRAMS, START, life

from gramrise.domain.frames import EVENTS, LOWS
from gramrise.domain.memo import Memo, ReadingsByDay
from gramrise.domain.person import Dated
from gramrise.estimate import estimate, estimate_settings
from gramrise.estimate.path.trace import ThinnedTrace

SETTINGS = estimate_settings()
TREATMENTS = 9
NOW = START + TREATMENTS * APART
NOON = START.replace(hour=0) + timedelta(days=2)  # what is told from here on is new
TOLERANCE = 1e-12  # of each number: what is remembered is what measuring gives


@pytest.fixture(scope="module")
def whole():
    return life(treatments=TREATMENTS)


def found(inputs, screened, at=NOW, earlier=(), settings=SETTINGS):
    """What is estimated, and the memo it leaves."""
    memo = Memo(earlier)
    result = estimate(inputs, screened.drop("weight_kg"), LOWS.empty(), at, settings, memo=memo)
    return result, memo


def used_again(earlier, later, kind="measurement"):
    """Places in order of time of the treatments that were recalled, not made anew."""
    firsts = sorted(slot for of, slot in later.current if of == kind)
    return [n for n, first in enumerate(firsts) if later.current[kind, first] is earlier.current.get((kind, first))]


def assert_same(one, other):
    for name in ("pairings", "factors", "predictions", "paths"):
        assert_frame_equal(getattr(one, name), getattr(other, name), rel_tol=TOLERANCE, abs_tol=TOLERANCE)


def test_with_or_without_what_an_earlier_night_left_the_answer_is_the_same(whole):
    _, earlier = found(*whole, at=NOON)
    one, memo = found(*whole, earlier=earlier.current.values())
    assert_same(one, found(*whole)[0])
    assert 0 < len(used_again(earlier, memo)) < TREATMENTS
    assert 0 < len(used_again(earlier, memo, "picture")) < TREATMENTS


def test_what_two_nights_leave_is_what_one_look_leaves_byte_for_byte(whole):
    _, first = found(*whole, at=NOON)
    _, second = found(*whole, earlier=first.current.values())
    assert second.current == found(*whole)[1].current


def test_what_was_measured_is_not_even_read(whole):
    inputs, screened = whole
    days = ReadingsByDay.of(inputs.readings)
    read = []

    def fetch(from_us, to_us):
        read.append(from_us)
        return days.fetch(from_us, to_us)

    _, earlier = found(inputs, screened)
    told = (inputs, screened.drop("weight_kg"), LOWS.empty(), NOW, SETTINGS)
    estimate(*told, replace(days, fetch=fetch), Memo(earlier.current.values()))
    assert len(read) == 1  # the latest untreated stretches


CHANGES = [
    "grams",
    "window",
    "verdict",
    "weight",
    "settings",
    "another treatment",
    "a reading",
    "a late reading",
    "food",
]


@pytest.mark.parametrize("what", CHANGES)
def test_whatever_is_changed_in_a_treatment_it_is_measured_anew_and_no_other_is(whole, what):
    inputs, screened = whole
    settings = SETTINGS
    _, earlier = found(inputs, screened)
    first = START + 2 * APART
    third = pl.col("first_dose_utc") == first
    expected = [n for n in range(TREATMENTS) if n != 2]
    if what == "grams":
        more = pl.when(pl.col("taken_at_utc") == first).then(GRAMS + 1).otherwise("grams")
        inputs = replace(inputs, doses=inputs.doses.with_columns(grams=more))
    elif what == "window":
        cut = pl.col("window_to_utc") - timedelta(minutes=10)
        screened = screened.with_columns(window_to_utc=pl.when(third).then(cut).otherwise("window_to_utc"))
    elif what == "verdict":  # which says whether it teaches, not what it measures
        aside = pl.when(third).then(pl.lit("set_aside")).otherwise("verdict")
        screened, expected = screened.with_columns(verdict=aside), list(range(TREATMENTS))
    elif what == "another treatment":
        screened, expected = screened.filter(~third), list(range(TREATMENTS - 1))
    elif what == "weight":
        weighed = Dated(((first.date(), 40.0),))
        inputs, expected = replace(inputs, person=replace(inputs.person, weights_kg=weighed)), []
    elif what in ("a reading", "a late reading"):
        minutes = 25 if what == "a reading" else 80
        near = (pl.col("at_utc") - first - timedelta(minutes=minutes)).abs() <= timedelta(minutes=3)
        moved = pl.when(near).then(pl.col("glucose_mg_dl") + 1).otherwise("glucose_mg_dl")
        assert inputs.readings.filter(near).height
        inputs, expected = replace(inputs, readings=inputs.readings.with_columns(glucose_mg_dl=moved)), None
    elif what == "food":
        row = (inputs.person.person_id, first - timedelta(minutes=70), None, "food", 20.0, "")
        inputs, expected = replace(inputs, events=pl.DataFrame([row], schema=EVENTS.schema, orient="row")), None
    else:
        settings = SETTINGS.model_copy(update={"path": SETTINGS.path.model_copy(update={"tail_min": 95.0})})
        expected = []
    one, memo = found(inputs, screened, earlier=earlier.current.values(), settings=settings)
    again = used_again(earlier, memo)
    if expected is None:  # several treatments share a day
        assert 2 not in again
        assert len(again) >= TREATMENTS // 2
    else:
        assert again == expected
    assert_same(one, found(inputs, screened, settings=settings)[0])


def test_a_clock_set_back_takes_nothing_from_later(whole):
    _, earlier = found(*whole)
    for at in (NOON, NOON + timedelta(hours=5), NOON + timedelta(minutes=20)):
        one, memo = found(*whole, at=at, earlier=earlier.current.values())
        assert_same(one, found(*whole, at=at)[0])
        assert used_again(earlier, memo)


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
