"""Speed of detection on one core: 1,000 persons x 90 days under 60 s; a new day under 20 ms a person.

Run: python tests/benchmark/detect_speed.py [persons, default 20]; CPU seconds are measured and scaled to 1,000 persons.
"""

import sys
import time
from datetime import UTC, datetime, timedelta

import polars as pl
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from virtual.cohort import CohortSpec, cohort

from gramrise.detect import detect, detect_in_chunks
from gramrise.domain.findings import Inputs
from gramrise.domain.memo import Memo, ReadingsByDay

DAYS = 90
WHOLE_SECONDS, DAY_MS = 60.0, 20.0


def _until(inputs: Inputs, at: datetime) -> Inputs:
    return Inputs(
        inputs.person,
        readings=inputs.readings.filter(pl.col("at_utc") < at),
        fingers=inputs.fingers.filter(pl.col("at_utc") < at),
        doses=inputs.doses.filter(pl.col("taken_at_utc") < at),
        events=inputs.events.filter(pl.col("at_utc") < at),
    )


def _remembered(inputs: Inputs, now: datetime) -> Memo:
    """What the night before leaves to the next one."""
    memo = Memo()
    detect_in_chunks(inputs, ReadingsByDay.of(inputs.readings), now, memo)
    return Memo(memo.current.values())


def main() -> None:
    persons = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    spec = CohortSpec(seed=1, persons=persons, days=DAYS, step_minutes=5)
    made = cohort(spec).inputs
    now = datetime.combine(spec.start, datetime.min.time(), UTC) + timedelta(days=DAYS)
    yesterday = now - timedelta(days=1)
    detect(made[0], now)  # warm
    began = time.process_time()
    whole = [detect(inputs, now) for inputs in made]
    seconds = (time.process_time() - began) / persons * 1000
    days = [ReadingsByDay.of(inputs.readings) for inputs in made]
    memos = [_remembered(_until(inputs, yesterday), yesterday) for inputs in made]
    began = time.process_time()
    again = [detect_in_chunks(*told[:2], now, told[2]) for told in zip(made, days, memos, strict=True)]
    day_ms = (time.process_time() - began) / persons * 1000
    equal = all(a.lows.equals(b.lows) and a.screened.equals(b.screened) for a, b in zip(again, whole, strict=True))
    lows = sum(one.lows.height for one in whole) / persons
    treatments = sum(one.treatments.height for one in whole) / persons
    print(f"{persons} persons, {DAYS} days, 5-minute sensor; {lows:.0f} lows and {treatments:.0f} treatments each")
    for what, value, bar, unit in (
        ("1,000 persons x 90 days, CPU", seconds, WHOLE_SECONDS, "s"),
        ("a new day, CPU a person", day_ms, DAY_MS, "ms"),
    ):
        print(f"{what:34} {value:8.1f} {unit:3} bar {bar:.0f} {unit:3} {'holds' if value <= bar else 'FALLS SHORT'}")
    print(f"{'a new day equals the whole':34} {'holds' if equal else 'FALLS SHORT'}")


if __name__ == "__main__":
    main()
