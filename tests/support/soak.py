"""Invented people whose logs come in a file a day, night after night, in one process: the service as it lives."""

import gc
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl
from virtual import CohortSpec, cohort

from gramrise.nightly.night import run_night
from gramrise.store import Store

DAY = timedelta(days=1)
SETTINGS = """
[nightly]
rest_seconds = 0
"""


def resident_mb():
    """Memory this process holds, MB, garbage collected."""
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4096 / 1e6


def files_of_a_day(inputs, start):
    """Readings and glucose given of one day as a family would export them, by file name."""
    within = {
        name: getattr(inputs, name).filter(pl.col(at).is_between(start, start + DAY, closed="left"))
        for name, at in (("readings", "at_utc"), ("doses", "taken_at_utc"))
    }
    seen = within["readings"].select("at_utc", "glucose_mg_dl").rows()
    given = within["doses"].drop_nulls("grams").select("taken_at_utc", "grams").rows()
    tables = {
        "readings": ["time,glucose (mg/dL)", *(f"{at:%Y-%m-%dT%H:%M:%S}+00:00,{value:.0f}" for at, value in seen)],
        "given": ["time,grams,form", *(f"{at:%Y-%m-%dT%H:%M:%S}+00:00,{grams:.2f},tablet" for at, grams in given)],
    }
    return {f"{name}-{start:%m-%d}.csv": "\n".join(lines) + "\n" for name, lines in tables.items() if len(lines) > 1}


def soak(home, persons, days, seed=1):
    """Lives through the days; the memory held after each night, MB. Fails where a night or a file does."""
    spec = CohortSpec(seed=seed, persons=persons, days=days)
    people = cohort(spec).inputs
    home.mkdir(parents=True, mode=0o700)
    (home / "gramrise.toml").write_text(SETTINGS, encoding="utf-8")
    begin = datetime(spec.start.year, spec.start.month, spec.start.day, tzinfo=UTC)
    memory = []
    with Store.open(home) as store:
        for inputs in people:
            store.save_person(inputs.person)
        for day in range(days):
            for inputs in people:
                folder = home / "inbox" / inputs.person.person_id
                folder.mkdir(parents=True, exist_ok=True)
                for name, text in files_of_a_day(inputs, begin + day * DAY).items():
                    (folder / name).write_text(text, encoding="utf-8")
            night = run_night(store, home, begin + (day + 1) * DAY)
            assert (night.failed, night.held) == (0, []), night.held
            assert night.persons == persons
            memory.append(resident_mb())
            shutil.rmtree(home / "reports", ignore_errors=True)
    return memory
