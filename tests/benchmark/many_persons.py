"""Homes with many persons, for benchmarks of the service: a few virtual ones, copied row by row under other ids."""

import sys
from datetime import UTC, timedelta
from datetime import datetime as instant
from pathlib import Path

import polars as pl
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from sqlalchemy import insert, select
from virtual import CohortSpec, cohort

from gramrise.domain.batch import Batch
from gramrise.store import Store
from gramrise.store.schema import METADATA

SETTINGS = "[nightly]\nrest_seconds = 0\nmost_weeks_caught_up = 1\nweekly_for_roles = []\n"
COLUMNS = {"readings": "at_utc", "fingers": "at_utc", "doses": "taken_at_utc", "events": "at_utc"}
COPIED = ("persons", "person_facts", "weights", "readings", "doses", "events")
# Persons that differ; the others are copies of them. Our choice: enough that no night is all of one kind.
MODELS = 10


def home_of(folder: Path, persons: int, days: int, database: str | None = None) -> tuple[Path, instant]:
    """A home of so many persons with a history and, in each inbox, one new day. The night to be run is returned."""
    home = folder / f"home-{persons}{'-server' if database else ''}"
    home.mkdir(parents=True, mode=0o700)
    told = f'database = "{database}"\n' if database else ""
    (home / "gramrise.toml").write_text(told + SETTINGS)
    spec = CohortSpec(seed=5, persons=min(MODELS, persons), days=days + 1)
    begin = instant(spec.start.year, spec.start.month, spec.start.day, tzinfo=UTC)
    last = begin + timedelta(days=days)
    models = cohort(spec).inputs
    ids = [each.person.person_id for each in models]
    with Store.open(home) as store:
        for inputs in models:
            store.save_person(inputs.person)
            store.take_in(_part(inputs, begin - timedelta(days=2), last), last)
        copies = {f"{ids[n % len(ids)]}-{n}": ids[n % len(ids)] for n in range(len(ids), persons)}
        _copy(store, copies)
    of_day = {each.person.person_id: _day(each, last, last + timedelta(days=1)) for each in models}
    for n, who in enumerate([*ids, *copies]):
        (home / "inbox" / who).mkdir(parents=True, exist_ok=True)
        lines = [f"{at},{value + n / 1e5:.5f}" for at, value in of_day[copies.get(who, who)]]
        (home / "inbox" / who / "day.csv").write_text("\n".join(["time,glucose (mg/dL)", *lines]) + "\n")
    return home, last + timedelta(days=1)


def _part(inputs, start, end):
    within = {k: getattr(inputs, k).filter(pl.col(c).is_between(start, end, closed="left")) for k, c in COLUMNS.items()}
    return Batch(inputs.person.person_id, "history", "history", "plain", 0, **within)


def _day(inputs, start, end):
    rows = inputs.readings.filter(pl.col("at_utc").is_between(start, end, closed="left"))
    return [
        (f"{at:%Y-%m-%dT%H:%M:%S}+00:00", round(value)) for at, value in rows.select("at_utc", "glucose_mg_dl").rows()
    ]


def _copy(store, copies):
    """Rows of each model under the ids of its copies. A reading moves by a tenth: a file must not be another's."""
    numbers = {who: n for n, who in enumerate(copies)}
    with store.writing() as connection:
        for name in COPIED:
            table = METADATA.tables[name]
            rows = {
                model: [dict(row._mapping) for row in connection.execute(_of(table, model))]
                for model in set(copies.values())
            }
            for who, model in copies.items():
                made = [row | {"person_id": who} for row in rows[model]]
                if name == "readings":
                    for row in made:
                        row["glucose_mg_dl"] += 0.1 + numbers[who] / 1e6
                if made:
                    connection.execute(insert(table), made)


def _of(table, who):
    return select(table).where(table.c.person_id == who)


if __name__ == "__main__":
    sys.exit("a part of the benchmarks `workers` and `server`")
