"""A person's review: from the reference on, every pairing, what changed on the same axis, what was shown on the day."""

from dataclasses import replace
from datetime import date, timedelta

import polars as pl
import pytest
from support.report_people import BERLIN, NOW, WEEK_END, a_week, noon, person
from support.review_people import SIGNED_ON, drift_line, event, everyone, levels, review, shown, sign_off, with_events

from gramrise.estimate import weight_on


def test_pairings_begin_with_the_reference_and_the_latest_stands_first():
    seen = everyone()["signed"]
    firsts = [one.first_dose_utc for one in seen.pairings]
    assert seen.pairings_from_on == SIGNED_ON
    assert len(firsts) == 3  # of four treatments one lies before the day of the reference
    assert firsts == sorted(firsts, reverse=True)
    assert {first.astimezone(BERLIN).date() >= SIGNED_ON for first in firsts} == {True}


def test_one_that_was_seen_and_not_accepted_is_no_reference():
    inputs, found = a_week()
    seen = review(inputs, found, sign_offs=(sign_off(accepted=False),))
    assert seen.signed is None
    assert len(seen.sign_offs) == 1
    assert len(seen.pairings) == found.treatments.height == 4


def test_a_trace_runs_from_an_hour_before_the_glucose_to_two_and_a_half_hours_after():
    one = everyone()["unsigned"].pairings[0]
    minutes = [minute for piece in one.trace for minute, _ in piece]
    assert (min(minutes), max(minutes)) == (-58.0, 147.0)
    assert len(minutes) == 42  # 210 minutes in steps of 5
    assert one.untreated[0] == (-30.0, 61.6)  # 58 - 0.6 x -6, drawn by hand
    assert one.given == ((0.0, 5.52),)


def test_a_trace_is_broken_where_readings_are_missing_and_held_within_what_is_drawn():
    inputs, found = a_week(low_hours=(80.45,))  # hours 80 to 83 have no readings
    one = review(inputs, found).pairings[0]
    assert len(one.trace) == 2
    high = inputs.readings.with_columns(glucose_mg_dl=pl.lit(390.0))
    drawn = review(replace(inputs, readings=high), found).pairings[0].trace
    assert {level for piece in drawn for _, level in piece} == {300.0}


def test_a_pairing_carries_the_number_that_the_night_before_it_had_shown():
    inputs, found = a_week()
    told = review(inputs, found, shown=shown()).pairings
    assert [one.shown_factor_mg_dl_per_g for one in told] == pytest.approx([11.19, 11.17, 11.02, 11.02])


def test_the_line_of_growth_is_the_signed_number_times_the_weight_of_its_day_over_that_of_later_days():
    seen = everyone()["signed"]
    course = next(one for one in seen.courses if one.band == "daytime")
    who = replace(person(), weights_kg=_weights())
    last = course.growth[-1]
    assert course.growth[0].factor_mg_dl_per_g == pytest.approx(9.3)
    assert last.on == seen.data_on
    assert last.factor_mg_dl_per_g == pytest.approx(9.3 * weight_on(who, SIGNED_ON) / weight_on(who, last.on))
    assert last.factor_mg_dl_per_g < 9.3


def _weights():
    from gramrise.domain.person import Dated

    return Dated(((date(2026, 9, 1), 29.0), (date(2026, 11, 20), 30.0)))


def test_what_else_changed_is_dated_and_told_with_what_held_before():
    told = {each.code: each for each in everyone()["signed"].happened}
    assert (told["delivery"].on, told["delivery"].text) == (date(2026, 11, 18), "pump")
    assert (told["strength"].before, told["strength"].value) == (0.92, 1.0)
    assert told["weighed"].value == 30.0
    assert told["illness"].text == "a cold"
    assert [each.on for each in everyone()["signed"].happened] == sorted(
        each.on for each in everyone()["signed"].happened
    )


def test_a_sensor_with_another_step_is_seen_in_the_readings():
    inputs, found = a_week(low_hours=())
    half = noon(WEEK_END) - timedelta(days=3)
    coarse = inputs.readings.filter((pl.col("at_utc") < half) | (pl.col("at_utc").dt.minute() % 15 == 0))
    steps = [each for each in review(replace(inputs, readings=coarse), found).happened if each.code == "sensor_step"]
    assert [(each.before, each.value) for each in steps] == [(5.0, 15.0)]


def test_a_week_counts_what_was_logged_in_it_by_hand():
    """Seven days to the 22nd: four amounts of 5.52 g, five lows of which one has no entry, 14 U of insulin."""
    inputs, found = a_week()
    who = inputs.person
    inputs = with_events(
        inputs,
        event(who, NOW - timedelta(days=3), "insulin", 10.0),
        event(who, NOW - timedelta(days=2), "insulin", 4.0),
        event(who, NOW - timedelta(days=2), "food", None),
    )
    week = review(inputs, found).weeks[-1]
    assert (week.week, week.days_n) == (date(2026, 11, 16), 7)
    assert week.insulin_units_a_day == 2.0  # 14 U in 7 days
    assert week.carbohydrate_g_a_day is None  # food without grams is no zero
    assert week.glucose_g_a_day == pytest.approx(5.52 * 4 / 7, abs=0.01)
    assert (week.lows_n, week.lows_logged_n) == (5, 4)


def test_of_nights_shown_the_latest_stands_first_and_one_a_week_before_it():
    kept = review(*a_week(), shown=shown()).shown
    assert [one.at_utc for one in kept[::2]] == [NOW - timedelta(days=1), NOW - timedelta(days=20)]
    assert [one.band for one in kept[:2]] == ["daytime", "overnight"]


def test_the_days_before_the_visit_begin_with_the_data():
    visit = everyone()["unsigned"].visit
    assert (visit.from_on, visit.to_on, visit.days_n) == (date(2026, 11, 15), date(2026, 11, 22), 8)
    assert visit.covered > 0.85


def test_grams_of_a_band_are_those_swallowed_in_its_hours():
    visit = everyone()["unsigned"].visit
    grams = {band.band: band.grams_a_day * visit.days_n for band in visit.given}
    assert sum(grams.values()) == pytest.approx(4 * 5.52, abs=0.1)
    # First amounts 8 minutes after hours 14.2, 38.5, 62.0 and 133.0 from Sunday noon: 02:20, 02:38, 02:08, 01:08.
    assert {band.band: band.treatments_n for band in visit.given} == {"daytime": 0, "overnight": 4}


def test_somebody_without_any_data_has_a_review_that_says_so():
    empty = everyone()["no_data"]
    assert (empty.last_reading_utc, empty.pairings, empty.weeks, empty.visit.lows_n) == (None, (), (), 0)
    assert [factor.known for factor in empty.factors] == [False, False]


def test_drift_and_course_stand_together_in_a_band():
    course = everyone()["signed"].courses[0]
    line = drift_line()
    assert (course.change_p05_on, course.change_on, course.change_p95_on) == (
        line.change_p05_on,
        line.change_on,
        line.change_p95_on,
    )
    assert len(course.points) == len(levels()) // 2
