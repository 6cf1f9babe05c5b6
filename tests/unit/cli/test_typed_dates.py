"""Dates as people type them, in the person's language; what may be two days is refused."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from gramrise.domain.person import Dated
from gramrise.domain.problems import WrongUse
from gramrise.intake import instant_meant, local_date, without_time

ZONES = Dated(((date(2016, 1, 1), ZoneInfo("Europe/Berlin")),))
NOW = datetime(2026, 3, 14, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("typed", "language"),
    [
        ("2026-03-09", "en"),
        ("9.3.2026", "en"),
        ("09.03.2026", "de"),
        ("9.3.26", "de"),
        ("9. März 2026", "de"),
        ("9 Mar 2026", "en"),
        ("March 9, 2026", "en"),
        ("9/3/2026", "de"),
    ],
)
def test_a_date_is_taken_as_people_type_it(typed, language):
    assert local_date(typed, language) == date(2026, 3, 9)


def test_a_part_over_twelve_settles_the_order_and_otherwise_english_slashes_are_refused():
    assert local_date("3/25/2026") == local_date("25/3/2026") == date(2026, 3, 25)
    with pytest.raises(WrongUse, match="day first or month first"):
        local_date("9/3/2026")


@pytest.mark.parametrize("typed", ["yesterday", "31.2.2026", "9.3.", "2026", "9.3.2026 2:10"])
def test_what_is_no_date_is_refused(typed):
    with pytest.raises(WrongUse, match="not a date"):
        local_date(typed, "de")


@pytest.mark.parametrize("typed", ["9.3.2026 2:10", "2026-03-09 2:10", "9 Mar 2026 2:10 AM", "2026-03-09T02:10"])
def test_a_day_and_a_time_are_taken_as_people_type_them(typed):
    assert instant_meant(typed, ZONES, NOW) == datetime(2026, 3, 9, 1, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    "words",
    [
        "3 pieces tomorrow at 2:10",
        "3 Stück morgen um 2:10",
        "3 pieces on Monday at 2:10",
        "3 Stück am Montag um 2:10",
        "3 pieces 9 Mar 2:10",
        "3 Stück am 9.3. um 2:10",
        "3 pieces tomorrow",
    ],
)
def test_a_day_that_no_clock_time_settles_is_refused_and_never_dropped(words):
    with pytest.raises(WrongUse, match="which day"):
        without_time(words, ZONES, NOW)


def test_this_morning_is_no_day_to_come_and_a_full_date_is_taken():
    assert without_time("3 Stück heute morgen um 7:10", ZONES, NOW).at_utc == datetime(2026, 3, 14, 6, 10, tzinfo=UTC)
    said = without_time("3 Stück am 9.3.2026 um 2:10", ZONES, NOW)
    assert (said.text, said.at_utc) == ("3 Stück", datetime(2026, 3, 9, 1, 10, tzinfo=UTC))
