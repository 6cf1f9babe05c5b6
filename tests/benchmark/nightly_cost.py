"""What a night costs a person with one new day, after 30, 91 and 365 days, and after five years.

Run: python tests/benchmark/nightly_cost.py [PERSONS] [--five-years]    (12 unless said otherwise; stated for 1,000)
CPU seconds a person of the pass as a whole (inbox read and moved, findings, run recorded), the middle one of three
nights in a row, since what else the machine does makes CPU time longer too; and of its steps after the last. Beside it
stands what a fixed loop took then: where it took longer, the machine was slower.
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import sys
import tempfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from statistics import mean, median
from time import process_time

import polars as pl
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from virtual import CohortSpec, cohort

from gramrise.detect import detect_in_chunks
from gramrise.domain.batch import Batch
from gramrise.domain.findings import Findings
from gramrise.estimate import estimate
from gramrise.nightly.night import run_night
from gramrise.nightly.one_person import rules_of
from gramrise.store import Store

BAR_SECONDS = 0.2
BAR_SECONDS_FIVE_YEARS = 0.5
FIVE_YEARS = 1826
# No night of these is a Sunday's, when a report would be written in the same pass.
HISTORIES = (30, 91, 365)
NIGHTS = 3
SETTINGS = "[nightly]\nrest_seconds = 0\nmost_weeks_caught_up = 1\nweekly_for_roles = []\n"
COLUMNS = {"readings": "at_utc", "fingers": "at_utc", "doses": "taken_at_utc", "events": "at_utc"}


def part(inputs, start, end, name):
    within = {k: getattr(inputs, k).filter(pl.col(c).is_between(start, end, closed="left")) for k, c in COLUMNS.items()}
    return Batch(inputs.person.person_id, name, name, "plain", 0, **within)


def csv_of_day(inputs, start, end):
    rows = inputs.readings.filter(pl.col("at_utc").is_between(start, end, closed="left"))
    lines = [f"{at:%Y-%m-%dT%H:%M:%S}+00:00,{value:.0f}" for at, value in rows.select("at_utc", "glucose_mg_dl").rows()]
    return "\n".join(["time,glucose (mg/dL)", *lines]) + "\n"


def loop_ms() -> float:
    """CPU milliseconds of a fixed piece of work: how fast the machine is just now."""
    begun = process_time()
    sum(n * n for n in range(1_000_000))
    return (process_time() - begun) * 1000


def one_history(days: int, persons: int) -> dict[str, float]:
    spec = CohortSpec(seed=5, persons=persons, days=days + NIGHTS)
    people = cohort(spec).inputs
    begin = datetime(spec.start.year, spec.start.month, spec.start.day, tzinfo=UTC)
    last = begin + timedelta(days=days)
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder) / "home") as store:
        home = Path(folder) / "home"
        (home / "gramrise.toml").write_text(SETTINGS)
        for inputs in people:
            store.save_person(inputs.person)
            store.take_in(part(inputs, begin - timedelta(days=2), last, "history"), last)
        run_night(store, home, last)
        took, loops = [], []
        for n in range(NIGHTS):
            start, now = last + timedelta(days=n), last + timedelta(days=n + 1)
            for inputs in people:
                who = inputs.person.person_id
                store.take_in(part(inputs.__class__(inputs.person, doses=inputs.doses), start, now, f"doses {n}"), now)
                (home / "inbox" / who / f"day-{n}.csv").write_text(csv_of_day(inputs, start, now))
            loops.append(loop_ms())
            begun = process_time()
            night = run_night(store, home, now)
            took.append((process_time() - begun) / persons)
            loops.append(loop_ms())
            assert (night.persons, night.failed, night.files) == (persons, 0, persons), night.held
        spent = steps(store, home, [inputs.person.person_id for inputs in people], now)
        return {"night": median(took), **spent, "loop, ms": median(loops)}


def steps(store: Store, home: Path, persons: list[str], now: datetime) -> dict[str, float]:
    """CPU of each step alone, of the night just done once more: reading, detection, estimate, saving."""
    rules = rules_of(home)()
    took: dict[str, list[float]] = {"read": [], "detect": [], "estimate": [], "save": []}
    for who in persons:
        marks = [process_time()]
        with store.to_find_from(who) as known:
            memo = known.memo
            marks.append(process_time())
            detected = detect_in_chunks(known.inputs, known.readings, now, memo, rules.detect)
            marks.append(process_time())
            told = (known.inputs, detected.screened, detected.lows, now, rules.estimate, known.readings, memo)
            estimated = estimate(*told)
            marks.append(process_time())
        found = Findings(now, detected.lows, detected.treatments, estimated.pairings, factors=estimated.factors)
        store.save_findings(who, replace(found, predictions=estimated.predictions), (), known.version, True, memo)
        marks.append(process_time())
        for name, (begun, ended) in zip(took, pairwise(marks), strict=True):
            took[name].append(ended - begun)
    return {name: mean(each) for name, each in took.items()}


def main() -> None:
    numbers = [int(told) for told in sys.argv[1:] if told.isdigit()]
    persons = numbers[0] if numbers else 12
    histories = (*HISTORIES, FIVE_YEARS) if "--five-years" in sys.argv else HISTORIES
    one_history(30, 2)  # compiled parts are loaded once a night, not once a person
    found = {days: one_history(days, persons) for days in histories}
    print(f"{persons} persons, one new day each; CPU seconds a person")
    names = list(found[histories[0]])
    print(f"{'days of history':18}" + "".join(f"{name:>10}" for name in names))
    for days, costs in found.items():
        print(f"{days:<18}" + "".join(f"{costs[name]:10.3f}" for name in names))
    for days, costs in found.items():
        bar = BAR_SECONDS_FIVE_YEARS if days == FIVE_YEARS else BAR_SECONDS
        verdict = "holds" if costs["night"] <= bar else "FALLS SHORT"
        print(f"night at {days} days: {costs['night']:.3f} s / bar {bar} s / {verdict}")
    if FIVE_YEARS not in found:
        print(f"night at {FIVE_YEARS} days / bar {BAR_SECONDS_FIVE_YEARS} s / NOT RUN (say --five-years)")
    if persons < 1000:
        print("at 1,000 persons / bars as above / NOT RUN (say 1000)")


if __name__ == "__main__":
    main()
