"""When nights and weeks are due, over clock changes, leap days and the turn of the year."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gramrise.nightly.due import instant_of, latest_day_due, latest_week_due, next_day_due, next_due, next_week_due
from gramrise.nightly.settings import nightly_settings

BERLIN = ZoneInfo("Europe/Berlin")
CHICAGO = ZoneInfo("America/Chicago")
LORD_HOWE = ZoneInfo("Australia/Lord_Howe")
SHIPPED = nightly_settings()


def utc(*parts):
    return datetime(*parts, tzinfo=UTC)


@pytest.mark.parametrize(
    ("zone", "day", "at", "expected"),
    [
        (BERLIN, date(2026, 1, 5), time(5, 30), utc(2026, 1, 5, 4, 30)),
        (BERLIN, date(2026, 7, 5), time(5, 30), utc(2026, 7, 5, 3, 30)),
        # 29 March 2026: 02:00 becomes 03:00 at 01:00 UTC, so 02:30 never comes and is due as the gap ends.
        (BERLIN, date(2026, 3, 29), time(2, 30), utc(2026, 3, 29, 1, 0)),
        # 25 October 2026: 02:30 comes at 00:30 and again at 01:30 UTC; the first counts.
        (BERLIN, date(2026, 10, 25), time(2, 30), utc(2026, 10, 25, 0, 30)),
        (CHICAGO, date(2026, 3, 8), time(2, 15), utc(2026, 3, 8, 8, 0)),
        (CHICAGO, date(2026, 11, 1), time(1, 15), utc(2026, 11, 1, 6, 15)),
        # Lord Howe moves by half an hour: on 4 October 2026 02:00 becomes 02:30 at 15:30 UTC of the day before.
        (LORD_HOWE, date(2026, 10, 4), time(2, 10), utc(2026, 10, 3, 15, 30)),
        (BERLIN, date(2028, 2, 29), time(5, 30), utc(2028, 2, 29, 4, 30)),
    ],
)
def test_a_local_time_is_due_once_even_when_the_clock_skips_or_repeats_it(zone, day, at, expected):
    assert instant_of(day, at, zone) == expected


@given(
    st.integers(0, 4_000_000).map(lambda minutes: utc(2024, 1, 1) + timedelta(minutes=minutes)),
    st.sampled_from([BERLIN, CHICAGO, LORD_HOWE, ZoneInfo("Africa/Casablanca"), ZoneInfo("Pacific/Apia")]),
    st.times(),
)
def test_the_latest_due_day_has_come_and_the_next_has_not(now, zone, at):
    at = at.replace(second=0, microsecond=0, tzinfo=None)
    latest, coming = latest_day_due(now, at, zone), next_day_due(now, at, zone)
    assert instant_of(latest, at, zone) <= now < coming
    assert coming == instant_of(latest + timedelta(days=1), at, zone)


@pytest.mark.parametrize("zone", [BERLIN, CHICAGO], ids=str)
@pytest.mark.parametrize(
    "start", [date(2026, 3, 5), date(2026, 10, 22), date(2028, 2, 26), date(2026, 12, 29)], ids=str
)
def test_walking_from_due_instant_to_due_instant_visits_every_night_once(zone, start):
    now = instant_of(start, time(5, 30), zone)
    days = []
    for _ in range(30):
        days.append(latest_day_due(now, time(5, 30), zone))
        now = next_day_due(now, time(5, 30), zone)
    assert days == [start + timedelta(days=n) for n in range(30)]


def test_the_week_is_due_on_its_last_evening_and_not_a_minute_before():
    evening = utc(2026, 3, 29, 16, 0)  # Sunday 18:00 in Berlin, the day of the spring change
    assert latest_week_due(evening, SHIPPED, BERLIN) == date(2026, 3, 29)
    assert latest_week_due(evening - timedelta(minutes=1), SHIPPED, BERLIN) == date(2026, 3, 22)
    assert next_week_due(evening, SHIPPED, BERLIN) == utc(2026, 4, 5, 16, 0)


def test_over_a_year_each_week_is_due_once_across_the_turn_of_the_year():
    now, weeks = utc(2026, 12, 1), []
    for _ in range(10):
        now = next_week_due(now, SHIPPED, CHICAGO)
        weeks.append(latest_week_due(now, SHIPPED, CHICAGO))
    assert weeks == [date(2026, 12, 6) + timedelta(days=7 * n) for n in range(10)]


def test_the_next_thing_due_is_the_earliest_over_all_zones():
    assert next_due(utc(2026, 3, 2), SHIPPED, [CHICAGO, BERLIN]) == utc(2026, 3, 2, 4, 30)
    assert next_due(utc(2026, 3, 2), SHIPPED, []) is None
