"""However a log is split, overlapped, ordered or repeated over files, the same rows end up in the store."""

import random
import shutil
import tempfile
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gramrise.domain.batch import Batch
from gramrise.domain.frames import DOSES, EVENTS, READINGS
from gramrise.domain.person import Dated, Person
from gramrise.store import Store, write_backup

START = datetime(2026, 3, 1, tzinfo=UTC)
NOW = datetime(2026, 4, 1, tzinfo=UTC)


def person():
    return Person("mia", date(2016, 5, 1), Dated(((date(2016, 5, 1), ZoneInfo("Europe/Berlin")),)))


@st.composite
def logs(draw):
    """One child's true log: readings, doses at least six minutes apart, events."""
    seed = draw(st.integers(0, 10_000))
    rng = random.Random(seed)
    readings = [
        ("mia", START + timedelta(minutes=5 * i), float(rng.randint(40, 300)), "in", rng.choice([60, None]))
        for i in range(draw(st.integers(1, 60)))
    ]
    doses = [
        (
            "mia",
            START + timedelta(minutes=7 * i, seconds=rng.randint(0, 20)),
            rng.choice(["tin", ""]),
            1,
            "tablet",
            float(rng.randint(1, 4)),
            "piece",
            4.0,
            False,
            rng.choice([[], ["mixed_with_food"]]),
            "file",
            "",
        )
        for i in range(draw(st.integers(0, 12)))
    ]
    events = [
        ("mia", START + timedelta(minutes=30 * i), None, rng.choice(["insulin", "food"]), float(rng.randint(1, 30)), "")
        for i in range(draw(st.integers(0, 12)))
    ]
    return readings, doses, events


def frame(contract, rows):
    return contract.check(pl.DataFrame(rows, schema=contract.schema, orient="row"))


def taken_in(parts):
    """The inputs after these files, each a (readings, doses, events), in their order."""
    fresh = prepared().parent / "fresh"  # always the same place: compiled statements are kept by it
    shutil.rmtree(fresh, ignore_errors=True)
    fresh.mkdir()
    shutil.copy(prepared(), fresh / "gramrise.db")
    with Store.open(fresh) as store:
        return _taken_in(store, parts)


def _taken_in(store, parts):
    for number, (readings, doses, events) in enumerate(parts):
        offered = len(readings) + len(doses) + len(events)
        frames = {
            "readings": frame(READINGS, readings),
            "doses": frame(DOSES, doses),
            "events": frame(EVENTS, events),
        }
        summary = store.take_in(Batch("mia", f"{number}.csv", f"hash {number}", "plain", offered, **frames), NOW)
        assert summary.added + summary.already_known + summary.corrected == offered
        assert (summary.corrected, summary.conflicts) == (0, 0)
    inputs = store.inputs("mia")
    doses = inputs.doses.drop("remarks") if store.questions("mia") else inputs.doses
    return inputs.readings.rows(), doses.rows(), inputs.events.rows()


@cache
def prepared():
    """A database with the child in it, made once."""
    home = Path(tempfile.mkdtemp())
    with Store.open(home) as store:
        store.save_person(person())
        write_backup(home, home / "copy.db")
    return home / "copy.db"


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(logs(), st.randoms(use_true_random=False), st.integers(1, 4))
def test_any_split_overlap_and_order_of_files_gives_the_same_rows(log, rng, files):
    expected = taken_in([log])
    parts = [([], [], []) for _ in range(files)]
    for kind in range(3):
        for row in log[kind]:
            for part in rng.sample(parts, rng.randint(1, files)):
                part[kind].append(row)
    rng.shuffle(parts)
    for part in parts:
        for rows in part:
            rng.shuffle(rows)
    again = parts + rng.sample(parts, rng.randint(0, files))
    assert taken_in(again) == expected
