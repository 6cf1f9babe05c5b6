"""How fast the store takes readings in, against a bare bulk insert of the same rows in the same run.

Run: python tests/benchmark/store_rate.py [ROWS]      (a million unless said otherwise: the size its bar is meant for)
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import sqlite3
import sys
import tempfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from time import perf_counter, process_time
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.domain.batch import Batch
from gramrise.domain.frames import READINGS
from gramrise.domain.person import Dated, Person
from gramrise.store import Store

BAR = 0.5  # of the bare rate
ROUNDS = 3
NOW = datetime(2026, 1, 1, tzinfo=UTC)
PERSON = Person("p", date(2015, 1, 1), Dated(((date(2015, 1, 1), ZoneInfo("Europe/Berlin")),)))
BARE = (
    "CREATE TABLE readings (person_id TEXT, at_utc INTEGER, glucose_mg_dl REAL, range TEXT, offset_minutes INTEGER,"
    " import_id INTEGER, PRIMARY KEY (person_id, at_utc)) WITHOUT ROWID"
)


def readings(rows: int) -> pl.DataFrame:
    start = datetime(2010, 1, 1, tzinfo=UTC)
    made = pl.DataFrame({"n": pl.int_range(rows, eager=True)}).select(
        person_id=pl.lit("p"),
        at_utc=pl.lit(start) + pl.duration(minutes=5 * pl.col("n")),
        glucose_mg_dl=(80 + pl.col("n") * 7 % 150).cast(pl.Float64),
        range=pl.lit("in"),
        offset_minutes=pl.lit(60, dtype=pl.Int32),
    )
    return READINGS.check(made.with_columns(pl.col("at_utc").cast(READINGS.schema["at_utc"])))


def bare(frame: pl.DataFrame, folder: Path) -> float:
    """Rows a second of the driver's own bulk insert, one transaction, as safely written to disk as the store's."""
    connection = sqlite3.connect(folder / "bare.db", isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=FULL"):
        connection.execute(f"PRAGMA {pragma}")
    connection.execute(BARE)
    begun = process_time()
    rows = frame.with_columns(pl.col("at_utc").cast(pl.Int64), import_id=pl.lit(1)).rows()
    connection.execute("BEGIN IMMEDIATE")
    connection.executemany("INSERT INTO readings VALUES (?, ?, ?, ?, ?, ?)", rows)
    connection.execute("COMMIT")
    took = process_time() - begun
    connection.close()
    return frame.height / took


def stored(frame: pl.DataFrame, folder: Path) -> tuple[float, float, float]:
    """Rows a second of `take_in`: rows that are new, rows all known, and a year of readings read back (seconds)."""
    with Store.open(folder / "home") as store:
        store.save_person(PERSON)
        begun = process_time()
        store.take_in(Batch("p", "a.csv", "a", "plain", frame.height, readings=frame), NOW)
        new = frame.height / (process_time() - begun)
        begun = process_time()
        store.take_in(Batch("p", "b.csv", "b", "plain", frame.height, readings=frame), NOW)
        known = frame.height / (process_time() - begun)
        year = frame["at_utc"][-1] - timedelta(days=365)
        begun = perf_counter()
        store.inputs_since("p", year)
        return new, known, perf_counter() - begun


def main() -> None:
    frame = readings(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
    rates = []
    for _ in range(ROUNDS):
        with tempfile.TemporaryDirectory() as folder:
            rates.append((bare(frame, Path(folder)), *stored(frame, Path(folder))))
    best = [max(column) for column in zip(*rates, strict=True)]
    print(f"{frame.height} readings, CPU, best of {ROUNDS}: bare {best[0]:,.0f} rows/s; take_in {best[1]:,.0f} new,")
    print(f"{best[2]:,.0f} known already; a year of readings back in {min(r[3] for r in rates):.3f} s")
    for what, rate in (("stored, new rows", best[1]), ("stored, rows known already", best[2])):
        share = rate / best[0]
        print(f"{what:32} {share:5.2f} of bare / bar >= {BAR} / {'holds' if share >= BAR else 'FALLS SHORT'}")


if __name__ == "__main__":
    main()
