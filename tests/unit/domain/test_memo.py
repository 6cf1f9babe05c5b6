"""Results under a fingerprint of what they were computed from, and fingerprints of days of readings."""

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest

from gramrise.domain.frames import READINGS
from gramrise.domain.memo import DAY_US, NO_READINGS, Block, Memo, ReadingsByDay, fingerprint

START = datetime(2026, 3, 2, tzinfo=UTC)
START_US = int(START.timestamp()) * 1_000_000


def readings(minutes, values=None):
    values = [100.0] * len(minutes) if values is None else values
    rows = [
        ("mia", START + timedelta(minutes=at), value, "in", None) for at, value in zip(minutes, values, strict=True)
    ]
    return READINGS.check(pl.DataFrame(rows, schema=READINGS.schema, orient="row"))


def block(key=b"k", content=b"c"):
    return Block("lows", 3, key, 1, 5, 5, content)


def test_a_result_is_used_again_only_under_the_fingerprint_it_was_computed_from():
    memo = Memo([block()])
    assert memo.recall("lows", 3, b"other") is None
    assert memo.recall("lows", 4, b"k") is None
    assert memo.current == {}
    assert memo.recall("lows", 3, b"k") == b"c"
    assert memo.current == {("lows", 3): block()}


def test_a_new_result_takes_the_place_of_the_one_recalled():
    memo = Memo([block()])
    memo.recall("lows", 3, b"k")
    memo.remember(block(b"new", b"d"))
    assert list(memo.current.values()) == [block(b"new", b"d")]


def test_fingerprints_tell_parts_apart_not_only_their_letters():
    told = [("ab", "c"), ("a", "bc"), ("abc",), ("abc", ""), (b"ab", "d")]
    assert len({fingerprint(*parts) for parts in told}) == len(told)
    assert fingerprint("ab", "c") == fingerprint(b"ab", b"c")


@pytest.mark.parametrize("change", ["value", "time", "one more", "one less"])
def test_a_day_whose_readings_change_has_another_fingerprint_and_no_other_day_has(change):
    minutes = [0, 5, 1440, 1445, 4 * 1440]
    was = ReadingsByDay.of(readings(minutes))
    values = [100.0] * len(minutes)
    if change == "value":
        values[2] += 1e-9
    elif change == "time":
        minutes[2] += 1
    elif change == "one more":
        minutes.insert(3, 1442)
        values.append(100.0)
    else:
        del minutes[2], values[2]
    now = ReadingsByDay.of(readings(minutes, values))
    assert [a == b for a, b in zip(was.prints, now.prints, strict=True)] == [True, False, True, True, True]
    assert was.prints[2] == NO_READINGS


def test_fingerprints_of_days_before_and_after_the_readings_are_those_of_empty_days():
    days = ReadingsByDay.of(readings([0, 1440]))
    first, second = days.prints
    assert days.prints_between(START_US - 2 * DAY_US, START_US + 3 * DAY_US) == NO_READINGS * 2 + first + second + (
        NO_READINGS
    )
    assert days.prints_between(START_US + 5 * DAY_US, START_US + 6 * DAY_US) == NO_READINGS
    assert days.prints_between(START_US - 6 * DAY_US, START_US - 5 * DAY_US) == NO_READINGS
    assert days.prints_between(START_US + 1, START_US + DAY_US) == first
    assert days.prints_between(START_US + 1, START_US + DAY_US + 1) == first + second


def test_readings_are_fetched_from_one_instant_on_and_before_another():
    days = ReadingsByDay.of(readings([0, 5, 10, 15]))
    minute = 60_000_000
    part = days.fetch(START_US + 5 * minute, START_US + 15 * minute)
    assert part["at_utc"].to_list() == [START + timedelta(minutes=at) for at in (5, 10)]
    assert days.fetch(START_US + 9 * minute, START_US).height == 0


def test_a_person_without_readings_has_none_on_any_day():
    days = ReadingsByDay.of(READINGS.empty())
    assert days.prints_between(START_US, START_US + DAY_US) == NO_READINGS
    assert (days.last_us, days.fetch(0, 1).height) == (None, 0)
