"""Findings of the sample families and of a small cohort, in a form that can be written down and compared later.

Run `python tests/support/frozen_findings.py` from the root of a checkout to write them anew: only where a change is
meant to give other numbers, with MODEL_VERSION raised in the same commit.
"""

import json
import math
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl

from gramrise.cli.demonstration import read_families
from gramrise.domain.batch import Batch
from gramrise.domain.findings import Findings, Inputs
from gramrise.nightly import run_person
from gramrise.nightly.ingest import take_in_file
from gramrise.store import Store

ROOT = Path(__file__).resolve().parents[2]
FROZEN = ROOT / "tests" / "end_to_end" / "frozen_findings.json"
FRAMES = ("lows", "treatments", "pairings", "factors", "predictions", "courses")
COHORT_PERSONS, COHORT_DAYS, COHORT_SEED = 3, 60, 41
DIGITS = 12


def frozen_findings() -> dict[str, dict]:
    """Findings by person: frame by frame, column by column."""
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder) / "home") as store:
        home = Path(folder) / "home"
        found = {}
        for family in read_families(ROOT / "sample_exports"):
            store.save_person(family.person)
            for file in family.files:
                take_in_file(store, home, family.person, file, datetime(2026, 1, 1, tzinfo=UTC))
            found[family.person.person_id] = _of_person(store, family.person.person_id, home)
        for name, inputs in _cohort_inputs():
            who = inputs.person.person_id
            store.save_person(inputs.person)
            frames = {each: getattr(inputs, each) for each in ("readings", "fingers", "doses", "events")}
            store.take_in(Batch(who, "cohort", "cohort", "plain", 0, **frames), datetime(2026, 1, 1, tzinfo=UTC))
            found[name] = _of_person(store, who, home)
        return found


def _cohort_inputs() -> list[tuple[str, Inputs]]:
    from virtual import CohortSpec, cohort
    from virtual.second import SecondSpec, second_cohort

    first = cohort(CohortSpec(seed=COHORT_SEED, persons=COHORT_PERSONS, days=COHORT_DAYS)).inputs
    start = datetime(2025, 1, 6).date()  # noqa: DTZ001 - a day, no instant
    second = second_cohort(SecondSpec(COHORT_SEED, COHORT_PERSONS, COHORT_DAYS, True, start, False)).inputs
    return [
        *((f"first physiology {n}", inputs) for n, inputs in enumerate(first, 1)),
        *((f"second physiology {n}", inputs) for n, inputs in enumerate(second, 1)),
    ]


def _of_person(store: Store, person_id: str, home: Path) -> dict:
    last = store.inputs(person_id).readings["at_utc"].max()
    return written_down(run_person(store, person_id, last + timedelta(hours=1), home))


def written_down(found: Findings) -> dict:
    """Plain values of every frame but the pictures, of which only number and mean are kept."""
    told = {name: _columns(getattr(found, name)) for name in FRAMES}
    lines = ("untreated_mg_dl", "untreated_sd_mg_dl", "fitted_mg_dl")
    told["paths"] = {"rows": found.paths.height} | {line: _plain(found.paths[line].mean()) for line in lines}
    return told | {"log_next": found.log_next}


def _columns(frame: pl.DataFrame) -> dict[str, list]:
    return {name: [_plain(value) for value in frame[name].to_list()] for name in frame.columns if name != "person_id"}


def _plain(value):
    if isinstance(value, float):
        return None if not math.isfinite(value) else float(f"{value:.{DIGITS}g}")
    if isinstance(value, list):
        return [_plain(each) for each in value]
    return value if isinstance(value, str | int | bool | type(None)) else str(value)


def main() -> None:
    text = json.dumps(frozen_findings(), separators=(",", ":"), sort_keys=True)
    FROZEN.write_text(text.replace('"},', '"},\n').replace("],", "],\n") + "\n", encoding="utf-8")
    print(f"wrote {FROZEN.relative_to(ROOT)}: {FROZEN.stat().st_size} bytes")


if __name__ == "__main__":
    sys.path.append(str(ROOT / "tests"))
    main()
