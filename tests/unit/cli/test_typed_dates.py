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


@pytest.mark.parametrize("words", ["2 candies at 3:05", "2 Stück um 3 Uhr 05", "2 candies at 10:15"])
def test_a_time_whose_other_half_of_the_day_has_been_too_is_asked_about(words):
    at_2237 = datetime(2026, 3, 14, 21, 37, tzinfo=UTC)
    with pytest.raises(WrongUse, match="before noon or after"):
        without_time(words, ZONES, at_2237)


def test_an_hour_of_two_figures_is_told_what_else_to_write_and_its_day_settles_it():
    at_2237 = datetime(2026, 3, 14, 21, 37, tzinfo=UTC)
    with pytest.raises(WrongUse) as refused:
        without_time("3 Stück um 10:15", ZONES, at_2237)
    assert "today 11:00 or yesterday 11:00" in refused.value.mend
    assert without_time("3 Stück heute um 10:15", ZONES, at_2237).at_utc == datetime(2026, 3, 14, 9, 15, tzinfo=UTC)


@pytest.mark.parametrize(
    ("words", "local"),
    [("2 at 03:05", (3, 5)), ("2 at 3:05 am", (3, 5)), ("2 at 3:05 PM", (15, 5)), ("2 at 15:05", (15, 5)),
     ("2 at 12:30", (12, 30)), ("2 at 0:30", (0, 30))],
)  # fmt: skip
def test_a_time_that_says_its_half_of_the_day_is_taken(words, local):
    at_2237 = datetime(2026, 3, 14, 21, 37, tzinfo=UTC)
    found = without_time(words, ZONES, at_2237).at_utc
    assert found.astimezone(ZoneInfo("Europe/Berlin")) == datetime(
        2026, 3, 14, *local, tzinfo=ZoneInfo("Europe/Berlin")
    )


def test_at_two_in_the_morning_two_ten_is_ten_minutes_ago():
    found = without_time("3 pieces at 2:10", ZONES, datetime(2026, 3, 14, 1, 20, tzinfo=UTC)).at_utc
    assert found == datetime(2026, 3, 14, 1, 10, tzinfo=UTC)


@pytest.mark.parametrize(("now", "expected"), [("01:30", "01:20"), ("07:00", None)])
def test_a_clock_time_of_the_hour_that_came_twice_is_asked_about_unless_it_was_just_now(now, expected):
    """25 October 2026: 02:20 in Berlin is 00:20 and 01:20 UTC."""
    zones = Dated(((date(2016, 1, 1), ZoneInfo("Europe/Berlin")),))
    now_utc = datetime.fromisoformat(f"2026-10-25T{now}+00:00")
    if expected is None:
        with pytest.raises(WrongUse, match="came twice") as asked:
            instant_meant("02:20", zones, now_utc)
        assert "2026-10-25 02:20+02:00" in str(asked.value)
    else:
        assert instant_meant("02:20", zones, now_utc) == datetime.fromisoformat(f"2026-10-25T{expected}+00:00")
