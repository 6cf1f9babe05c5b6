"""A phone whose clock runs ahead of the server's: what it says was given now never lands a day back."""

from datetime import UTC, datetime, timedelta

import pytest
from support.nightly_home import child
from support.page_phone import ENTRY, phone, send

LATE = datetime(2026, 3, 2, 22, 57, tzinfo=UTC)  # 23:57 in Berlin
NIGHT = datetime(2026, 3, 2, 1, 10, 40, tzinfo=UTC)  # 02:10 in Berlin
NOON = datetime(2026, 3, 2, 14, 10, tzinfo=UTC)  # 15:10 in Berlin
# 02:10 of both passes of the hour that comes twice, and 02:28 of the second.
FIRST, SECOND, SECOND_LATER = (datetime(2026, 10, 25, *clock, tzinfo=UTC) for clock in ((0, 10), (1, 10), (1, 28)))


def one_child(store):
    store.save_person(child())


@pytest.fixture
def store(store_like):
    return store_like(one_child)


def given(store, now, way="/given", **fields):
    """The answer to an entry of a phone of its own, which says that it is another amount than the ones before."""
    fields = {"entry": ENTRY, "sure": "1"} | fields
    client = phone(store, "mia", label=fields["entry"], now=now)
    client.headers["accept"] = "application/json"
    return send(client, f"/0{way}", page="/0/", **fields).json()


def at_field(store, now, at, **fields):
    return given(store, now, amount="piece:3:tin", minutes="at", at=at, **fields)


def in_words(store, now, at, **fields):
    return given(store, now, words=f"3 pieces tin {at}", minutes="0", **fields)


def taken(store):
    return store.inputs("mia").doses["taken_at_utc"].to_list()


WAYS = pytest.mark.parametrize("way", [at_field, in_words])


@WAYS
@pytest.mark.parametrize("at", ["02:11", "02:12", "02:15"])
def test_a_time_up_to_five_minutes_ahead_is_now(store, way, at):
    assert way(store, NIGHT, at)["said"].endswith("02:10.")
    assert taken(store) == [NIGHT.replace(second=0)]


@WAYS
def test_a_few_minutes_ahead_over_midnight_are_now_too(store, way):
    assert way(store, LATE, "00:01")["logged"]
    assert taken(store) == [LATE]


@WAYS
@pytest.mark.parametrize(("now", "at"), [(NIGHT, "02:16"), (NIGHT, "04:10"), (LATE, "00:40")])
def test_a_time_further_ahead_is_refused_and_nothing_is_logged(store, way, now, at):
    assert f"{at} has not been yet" in way(store, now, at)["problem"]
    assert taken(store) == []


@WAYS
def test_a_time_far_ahead_is_the_day_befores_and_one_that_has_been_stays(store, way):
    assert way(store, NIGHT, "23:10")["logged"]
    assert way(store, NIGHT, "02:09", entry="f" * 32)["logged"]
    assert sorted(taken(store)) == [NIGHT.replace(second=0) - timedelta(minutes=each) for each in (180, 1)]


@WAYS
def test_an_entry_that_waited_is_read_at_the_moment_it_was_touched(store, way):
    assert way(store, NIGHT + timedelta(hours=6), "02:13", waited="21600")["logged"]
    assert taken(store) == [NIGHT.replace(second=0)]


def test_a_day_told_and_how_long_ago_are_read_as_they_stand(store):
    assert in_words(store, NIGHT, "yesterday 02:12")["logged"]
    assert in_words(store, NIGHT, "3 min ago", entry="f" * 32)["logged"]
    assert in_words(store, NIGHT, "today 02:14", entry="e" * 32)["logged"]
    told = [timedelta(days=1) - timedelta(minutes=2), timedelta(minutes=3), timedelta(0)]
    assert sorted(taken(store)) == [NIGHT.replace(second=0) - each for each in told]


def test_a_day_told_is_the_servers_also_a_minute_before_midnight(store):
    assert in_words(store, LATE, "today 00:01")["logged"]
    assert taken(store) == [LATE - timedelta(hours=23, minutes=56)]


def test_a_clock_of_twelve_hours_a_little_ahead_is_now_or_asked_about(store):
    assert in_words(store, NOON, "at 3:13 pm")["logged"]
    assert taken(store) == [NOON]
    assert "before noon or after" in in_words(store, NOON, "at 3:13", entry="f" * 32)["problem"]


@WAYS
def test_in_the_hour_that_comes_twice_the_pass_that_was_is_meant_unless_now_is(store, way):
    assert "has not been yet" in way(store, FIRST, "02:30")["problem"]
    assert way(store, SECOND, "02:30")["logged"]
    assert way(store, SECOND_LATER, "02:30", entry="f" * 32)["logged"]
    assert sorted(taken(store)) == [SECOND - timedelta(minutes=40), SECOND_LATER]


def test_food_and_the_count_of_a_tin_are_read_so_too(store):
    food = given(store, NIGHT, "/beside", kind="food", grams="20", minutes="at", at="02:13")
    assert food["said"].endswith("02:10.")
    send(phone(store, "mia", label="Mum", now=NIGHT), "/0/count", new_tin="bag", left="3", filled="9", at="02:13")
    assert [each.to_utc for each in store.supplies.counts("mia")] == [NIGHT.replace(second=0)]
