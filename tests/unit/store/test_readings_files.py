"""Readings kept once more for speed are never anything but what the table holds."""

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from support.store_logs import NOW, batch, child

from gramrise.domain.findings import Findings
from gramrise.domain.frames import READINGS
from gramrise.store import Store, readings_files

START = datetime(2025, 1, 1, tzinfo=UTC)


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


def kept(store):
    with store.reading() as connection:
        return readings_files.last_kept(connection, "mia")


def found(store):
    store.save_findings("mia", Findings(as_of_utc=NOW))


def put(store, frame, name):
    store.take_in(batch(name, readings=frame), NOW)


def test_a_long_trace_is_kept_when_findings_are_saved_and_read_back_as_it_was(store):
    put(store, days(0, 20), "a")
    assert kept(store) is None
    found(store)
    assert kept(store) is not None
    assert store.inputs("mia").readings.equals(days(0, 20))


def test_newer_readings_are_added_to_the_kept_ones(store):
    put(store, days(0, 20), "a")
    found(store)
    put(store, days(20, 2), "b")
    assert kept(store) is not None
    assert store.inputs("mia").readings.equals(pl.concat([days(0, 20), days(20, 2)]))
    since = START + timedelta(days=19)
    later = store.inputs_since("mia", since).readings
    assert later["at_utc"].min() == since
    assert later.height == 3 * 288


def test_a_correction_of_an_old_reading_is_seen_at_once(store):
    put(store, days(0, 20), "a")
    found(store)
    put(store, days(3, 1, raised=7.0), "b")
    assert kept(store) is None
    right = pl.concat(
        [days(0, 3), days(3, 1, raised=7.0), days(0, 20).filter(pl.col("at_utc") >= START + timedelta(days=4))]
    )
    assert store.inputs("mia").readings.equals(right)


def test_an_import_that_is_taken_back_takes_its_readings_along(store):
    put(store, days(0, 20), "a")
    put(store, days(20, 1), "b")
    found(store)
    store.take_back(store.imports("mia")[-1]["import_id"])
    assert store.inputs("mia").readings.equals(days(0, 20))
