"""Readings by day: fetched from the rows themselves, each day under a fingerprint of its rows."""

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from support.store_logs import NOW, batch, child

from gramrise.domain.frames import READINGS
from gramrise.domain.memo import DAY_US, NO_READINGS
from gramrise.store import Store

START = datetime(2025, 1, 1, tzinfo=UTC)
START_US = int(START.timestamp()) * 1_000_000


def days(first, count, raised=0.0):
    """Readings every 5 minutes from a day on, without offsets, as a table of local times gives them."""
    at = [START + timedelta(days=first, minutes=5 * n) for n in range(count * 288)]
    return READINGS.check(
        pl.DataFrame({"at_utc": at}).select(
            pl.lit("mia").alias("person_id"),
            pl.col("at_utc").cast(READINGS.schema["at_utc"]),
            (100.7 + raised + pl.int_range(pl.len()) % 50).cast(pl.Float64).alias("glucose_mg_dl"),
            pl.lit("in").alias("range"),
            pl.lit(None, dtype=pl.Int32).alias("offset_minutes"),
        )
    )


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path) as opened:
        opened.save_person(child("mia"))
        yield opened


def put(store, frame, name):
    store.take_in(batch(name, readings=frame), NOW)


def prints(store):
    with store.to_find_from("mia") as known:
        return known.readings.prints


def test_readings_are_fetched_as_they_were_put(store):
    put(store, days(0, 20), "a")
    with store.to_find_from("mia") as known:
        assert known.inputs.readings.height == 0
        part = known.readings.fetch(START_US + DAY_US, START_US + 3 * DAY_US)
        assert part.equals(days(0, 20)[288 : 3 * 288])
        assert known.readings.fetch(0, START_US + 20 * DAY_US).equals(store.inputs("mia").readings)


def test_a_day_to_come_changes_no_fingerprint_of_the_days_before(store):
    put(store, days(0, 20), "a")
    before = prints(store)
    put(store, days(21, 2), "b")
    after = prints(store)
    assert after[:20] == before
    assert after[20] == NO_READINGS
    assert len(set(after)) == 23


def test_a_correction_changes_the_fingerprint_of_its_day_alone(store):
    put(store, days(0, 20), "a")
    before = prints(store)
    put(store, days(3, 1, raised=7.0), "b")
    assert [n for n, (one, other) in enumerate(zip(before, prints(store), strict=True)) if one != other] == [3]


@pytest.mark.parametrize(
    "change",
    ["glucose_mg_dl = glucose_mg_dl + 0.0000000001", "glucose_mg_dl = 101", "range = 'below'", "at_utc = at_utc + 1"],
)
def test_whatever_is_changed_in_a_row_by_whomever_its_day_has_another_fingerprint(store, change):
    put(store, days(0, 3), "a")
    before = prints(store)
    with store.writing() as connection:
        where = f"at_utc = {START_US + DAY_US}"
        connection.exec_driver_sql(f"UPDATE readings SET {change} WHERE {where}")
    assert [one == other for one, other in zip(before, prints(store), strict=True)] == [True, False, True]


def test_an_import_that_is_taken_back_leaves_the_fingerprints_of_before(store):
    put(store, days(0, 20), "a")
    before = prints(store)
    put(store, days(20, 1), "b")
    store.take_back(store.imports("mia")[-1]["import_id"])
    assert prints(store) == before
    assert store.inputs("mia").readings.equals(days(0, 20))


def test_a_person_without_readings_has_no_days(store):
    assert prints(store) == ()
