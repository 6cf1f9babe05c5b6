"""Which lows stand at the top: glucagon, level 2, long ones, nights without an entry, and those the child missed."""

from dataclasses import replace
from datetime import timedelta

import polars as pl
import pytest
from support.report_people import WEEK_END, a_week, noon
from support.review_people import event, review, with_events

from gramrise.report.review.numbers.dangers import codes_of, gravest_first


def _changed(index, **columns):
    """A week whose low number `index` is changed."""
    inputs, found = a_week()
    here = pl.int_range(pl.len()) == index
    told = {name: pl.when(here).then(pl.lit(value)).otherwise(pl.col(name)) for name, value in columns.items()}
    return inputs, replace(found, lows=found.lows.with_columns(**told))


def test_the_week_as_drawn_has_one_night_without_an_entry():
    """Five lows; the fourth has nothing in the log, and began at 02:18 in the night."""
    dangers = review(*a_week()).dangers
    assert (dangers.lows_n, dangers.unlogged_nights_n, dangers.severe_n, dangers.level_2_n) == (5, 1, 0, 0)
    assert dangers.days == 28


@pytest.mark.parametrize(
    ("columns", "counted"),
    [
        ({"level": 2}, "level_2_n"),
        ({"prolonged": True}, "prolonged_n"),
        ({"evidence": ["glucagon_logged"]}, "severe_n"),
    ],
)
def test_each_danger_counts_a_low(columns, counted):
    before, after = review(*a_week()).dangers, review(*_changed(0, **columns)).dangers
    assert getattr(after, counted) == getattr(before, counted) + 1


def test_a_low_that_a_finger_stick_denied_is_no_danger():
    review_of_it = review(*_changed(0, level=2, prolonged=True, evidence=["finger_disagreed"]))
    assert review_of_it.dangers.level_2_n == 0
    assert codes_of(next(low for low in review_of_it.visit.dangerous if low.level == 1)) == ("nothing_logged",)


@pytest.mark.parametrize(("who", "missed"), [("sensor", 1), ("adult", 1), ("child", 0)])
def test_a_low_that_the_sensor_or_an_adult_noticed_is_one_the_child_missed(who, missed):
    inputs, found = a_week()
    first = pl.int_range(pl.len()) == 0
    doses = inputs.doses.with_columns(noticed=pl.when(first).then(pl.lit(who)).otherwise(pl.lit("")))
    dangers = review(replace(inputs, doses=doses), found).dangers
    assert (dangers.unnoticed_n, dangers.told_who_n) == (missed, 1)


def test_a_low_of_the_day_without_an_entry_is_none_for_the_team_and_one_by_night_is():
    by_night = [low for low in review(*a_week()).visit.dangerous if "nothing_logged" in codes_of(low)]
    assert [low.by_night for low in by_night] == [True]
    noon_low = a_week(low_hours=(24.2, 48.2, 72.2, 96.2))  # the fourth has no entry, and lies at noon
    assert review(*noon_low).dangers.unlogged_nights_n == 0


def test_severe_stands_before_deep_and_deep_before_one_without_an_entry():
    inputs, found = _changed(1, level=2)
    severe = pl.when(pl.int_range(pl.len()) == 2).then(pl.lit(["glucagon_logged"])).otherwise(pl.col("evidence"))
    visit = review(inputs, replace(found, lows=found.lows.with_columns(evidence=severe))).visit
    assert [codes_of(low)[0] for low in gravest_first(visit.dangerous)] == ["severe", "level_2", "nothing_logged"]


def test_lows_older_than_the_last_weeks_are_no_danger_of_the_panel_but_stand_before_the_visit():
    inputs, found = a_week()
    later = inputs.readings.with_columns(pl.col("at_utc") + timedelta(days=60))
    both = replace(inputs, readings=pl.concat([inputs.readings, later]))
    seen = review(both, found)
    assert (seen.dangers.lows_n, seen.visit.lows_n) == (0, 5)


def test_an_event_without_a_low_is_no_danger():
    inputs, found = a_week(low_hours=())
    calm = review(with_events(inputs, event(inputs.person, noon(WEEK_END), "note", text="all well")), found)
    assert not calm.dangers.any
    assert calm.visit.dangerous == ()
