"""Whatever files were taken in and whichever of them are taken back: the rest stands as if those had never come."""

import random
import shutil
from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from support.store_logs import child

from gramrise.domain.batch import Batch
from gramrise.domain.frames import DOSES, EVENTS, READINGS, WEIGHTS
from gramrise.store import Store

START = datetime(2026, 1, 20, 0, 0, tzinfo=UTC)
NOW = datetime(2026, 2, 1, 8, 0, tzinfo=UTC)
INSTANTS, VALUES = 6, 3


def file_of(rng: random.Random, number: int) -> Batch:
    """A file of a small world, so that files restate, correct and correct back each other often."""

    def some():
        return sorted(rng.sample(range(INSTANTS), rng.randint(1, INSTANTS)))

    readings = [
        ("mia", START + timedelta(minutes=5 * i), 100.0 + 20 * rng.randrange(VALUES), "in", None) for i in some()
    ]
    doses = [
        ("mia", START + timedelta(minutes=20 * i), "tin", 1, "tablet", 1.0 + rng.randrange(VALUES), "piece", 4.0, False,
         [], "file", "")
        for i in some()
    ]  # fmt: skip
    events = [
        ("mia", START + timedelta(minutes=30 * i), None, "food", 10.0 + rng.randrange(VALUES), "") for i in some()
    ]
    weights = [("mia", (START + timedelta(days=i)).date(), 31.0 + rng.randrange(VALUES)) for i in some()]
    frames = {
        name: contract.check(pl_frame(contract, rows))
        for name, contract, rows in (
            ("readings", READINGS, readings), ("doses", DOSES, doses), ("events", EVENTS, events),
            ("weights", WEIGHTS, weights),
        )
    }  # fmt: skip
    return Batch("mia", f"{number}.csv", f"hash {number}", "plain", 1, **frames)


def pl_frame(contract, rows):
    return pl.DataFrame(rows, schema=contract.schema, orient="row")


def state(store):
    inputs = store.inputs("mia")
    asked = [(each.question.key, each.answer) for each in store.questions("mia", only_open=False)]
    return inputs.readings.rows(), inputs.doses.rows(), inputs.events.rows(), inputs.person, sorted(asked)


@pytest.fixture(scope="module")
def made_once(tmp_path_factory):
    folder = tmp_path_factory.mktemp("undo-made-once")
    with Store.open(folder) as store:
        store.save_person(child())
    return folder / "gramrise.db"


def after(made_once, folder, files, back=()):
    """The state after these files, the numbered ones then taken back in this order."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700)
    shutil.copy(made_once, folder / "gramrise.db")
    with Store.open(folder) as store:
        for at, batch in enumerate(files):
            store.take_in(batch, NOW + timedelta(minutes=at))
        number_of = {change.about["file"]: change.change_id for change in store.last_changes("mia", 100)}
        for batch in back:
            store.undo(number_of[batch.file], NOW + timedelta(hours=1))
        first = state(store)
        for batch in back:
            store.undo(number_of[batch.file], NOW + timedelta(hours=2))
        assert state(store) == first, "taking back twice changed something"
        return first


@pytest.mark.parametrize(
    "seed", [seed if seed < 4 else pytest.param(seed, marks=pytest.mark.slow) for seed in range(20)]
)
def test_what_was_taken_back_might_as_well_never_have_come(made_once, tmp_path, seed):
    rng = random.Random(seed)
    files = [file_of(rng, number) for number in range(rng.randint(2, 6))]
    back = rng.sample(files, rng.randint(1, len(files)))
    left = [batch for batch in files if all(batch is not gone for gone in back)]
    with_all = after(made_once, tmp_path / "home", files)
    assert after(made_once, tmp_path / "home", files, back) == after(made_once, tmp_path / "home", left)
    assert with_all != after(made_once, tmp_path / "home", left) or len(left) > 0
