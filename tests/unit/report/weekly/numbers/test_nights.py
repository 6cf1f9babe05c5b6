"""The week from noon to noon: nights whole, clocks right, gaps honest."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from gramrise.detect.settings import shipped
from gramrise.detect.trace import trace_of
from gramrise.domain.bands import DEFAULT_BANDS
from gramrise.domain.frames import READINGS
from gramrise.domain.person import Dated
from gramrise.report.weekly.numbers.nights import covered, night_minutes, nights_to, pieces, ticks

BERLIN = ZoneInfo("Europe/Berlin")
THERE = Dated(((date.min, BERLIN),))
JOURNEY = Dated(((date.min, BERLIN), (date(2026, 11, 18), ZoneInfo("America/New_York"))))
OVERNIGHT = DEFAULT_BANDS[1]


def _trace(instants, level=100.0):
    rows = [("mia", at, level, "in", None) for at in instants]
    return trace_of(pl.DataFrame(rows, schema=READINGS.schema, orient="row"), shipped())


def test_a_week_has_seven_nights_each_from_noon_to_noon_and_none_is_cut():
    nights = nights_to(date(2026, 11, 22), THERE)
    assert [night.begins for night in nights] == [date(2026, 11, day) for day in range(15, 22)]
    assert all(a.to_utc == b.from_utc for a, b in pairwise(nights))
    assert {night.from_utc.astimezone(BERLIN).hour for night in nights} == {12}


@pytest.mark.parametrize(("week_end", "hours"), [(date(2026, 10, 26), 25), (date(2026, 3, 30), 23)])
def test_the_night_of_a_clock_change_has_its_real_length(week_end, hours):
    lengths = [night.minutes / 60 for night in nights_to(week_end, THERE)]
    assert lengths == [24] * 5 + [hours, 24]


def test_the_repeated_hour_of_autumn_is_marked_once_and_the_night_keeps_all_its_ten_hours():
    night = nights_to(date(2026, 10, 25), THERE)[-1]
    assert [tick.hour for tick in ticks(night, THERE)] == [12, 15, 18, 21, 0, 3, 6, 9, 12]
    assert night_minutes(night, THERE, OVERNIGHT) == ((600.0, 1200.0),)  # 22:00 to 07:00, one hour of it twice


def test_east_of_the_date_line_the_week_is_that_of_the_persons_own_calendar():
    nights = nights_to(date(2026, 11, 22), Dated(((date.min, ZoneInfo("Pacific/Kiritimati")),)))
    assert nights[0].from_utc == datetime(2026, 11, 14, 22, tzinfo=UTC)  # noon of the 15th at UTC+14


def test_the_weeks_before_and_after_a_journey_join_and_each_noon_is_that_of_its_place():
    """All of the week was told on the clock where it ended: a low stood in two weeks, a night's glucose by day."""
    before, after = (nights_to(date(2026, 11, day), JOURNEY) for day in (15, 22))
    assert before[-1].to_utc == after[0].from_utc
    assert [night.minutes / 60 for night in after] == [24, 24, 30, 24, 24, 24, 24]
    assert [tick.hour for tick in ticks(after[1], JOURNEY)] == [12, 15, 18, 21, 0, 3, 6, 9, 12]
    assert (
        night_minutes(after[0], JOURNEY, OVERNIGHT) == night_minutes(after[3], JOURNEY, OVERNIGHT) == ((600.0, 1140.0),)
    )


def test_a_day_that_a_flight_left_out_has_no_length():
    """From Samoa's side of the date line to Hawaii's and back: no noon lies before the one of the day before."""
    west, east = ZoneInfo("Pacific/Honolulu"), ZoneInfo("Pacific/Kiritimati")
    nights = nights_to(date(2026, 11, 22), Dated(((date.min, west), (date(2026, 11, 18), east))))
    assert [night.minutes / 60 for night in nights] == [24, 24, 0, 24, 24, 24, 24]


def test_the_line_breaks_where_readings_are_missing_and_not_before():
    night = nights_to(date(2026, 11, 22), THERE)[-1]
    minutes = [*range(0, 60, 5), *range(80, 120, 5), *range(150, 200, 5)]  # 25 minutes apart, then 35
    trace = _trace([night.from_utc + timedelta(minutes=m) for m in minutes])
    assert [piece[0][0] for piece in pieces(trace, night, 40, 300)] == [0.0, 80.0, 150.0]


def test_levels_beyond_what_is_drawn_run_along_the_edge():
    night = nights_to(date(2026, 11, 22), THERE)[-1]
    trace = _trace([night.from_utc + timedelta(minutes=5 * i) for i in range(3)], level=390.0)
    assert {level for piece in pieces(trace, night, 40, 300) for _, level in piece} == {300}


def test_a_reading_stands_until_the_next_at_most_one_usual_step():
    night = nights_to(date(2026, 11, 22), THERE)[-1]
    trace = _trace([night.from_utc + timedelta(minutes=5 * i) for i in range(144)])  # the first 12 of 24 hours
    assert covered(trace, night) == (0.5, 725.0)


def test_hours_that_have_not_come_yet_are_not_missing():
    night = nights_to(date(2026, 11, 22), THERE)[-1]
    trace = _trace([night.from_utc + timedelta(minutes=5 * i) for i in range(144)])
    assert covered(trace, night.until(night.from_utc + timedelta(hours=12))) == (1.0, 5.0)
