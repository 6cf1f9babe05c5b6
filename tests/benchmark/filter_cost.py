"""What measuring costs: treatments of one person-year, 10,000 persons on one core, and one person's night.

    python tests/benchmark/filter_cost.py [--persons 8]

Persons come from `virtual` with insulin logged for a year, one in three with a 15-minute sensor; the time is scaled to
10,000 persons.
"""

import argparse
import sys
import time
from datetime import UTC, datetime, timedelta

import tests_on_path  # noqa: F401 - support and virtual lie in tests
from support.measuring import measure
from virtual import CohortSpec, cohort

from gramrise.detect import detect
from gramrise.detect.settings import shipped as detect_settings
from gramrise.domain.frames import LOWS
from gramrise.domain.memo import Memo, ReadingsByDay
from gramrise.estimate import estimate
from gramrise.estimate.body_weight import with_weights
from gramrise.estimate.path_settings import shipped
from gramrise.estimate.settings import shipped as shipped_estimate

MINUTES_ALL, MS_NIGHT = 10.0, 50.0
PERSONS = 10_000
NOW = datetime(2027, 1, 1, tzinfo=UTC)


def one_night(inputs, screened):
    """CPU seconds of `estimate` for the last day of the log, all earlier days remembered from the night before."""
    last = inputs.readings["at_utc"].max()
    earlier, lows, days = Memo(), LOWS.empty(), ReadingsByDay.of(inputs.readings)
    estimate(inputs, screened, lows, last - timedelta(days=1), shipped_estimate(), days, earlier)
    begun = time.process_time()
    for _ in range(3):
        estimate(inputs, screened, lows, last, shipped_estimate(), days, Memo(earlier.current.values()))
    return (time.process_time() - begun) / 3


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--persons", type=int, default=8)
    made = cohort(CohortSpec(seed=9, persons=parser.parse_args().persons, days=365, step_minutes=0))
    settings = shipped()
    judged = [with_weights(i.person, detect(i, NOW, detect_settings()).screened) for i in made.inputs]
    measure(made.inputs[0], judged[0], settings)  # compiled, tables built
    begun = time.process_time()
    treatments = sum(
        measure(inputs, screened, settings, with_paths=False).frame.height
        for inputs, screened in zip(made.inputs, judged, strict=True)
    )
    spent = time.process_time() - begun
    each = spent / treatments
    busiest = max(range(len(judged)), key=lambda n: judged[n].height)
    nights = [one_night(made.inputs[n], judged[n].drop("weight_kg")) for n in range(len(judged))]
    night = sum(nights) / len(nights)
    minutes = spent / len(judged) * PERSONS / 60
    rows = [
        ("a treatment, ms", each * 1000, None),
        (f"{PERSONS:,} persons x 1 year, minutes", minutes, MINUTES_ALL),
        ("estimate of one night after a year, ms", night * 1000, MS_NIGHT),
        ("the same of the person with most treatments, ms", nights[busiest] * 1000, MS_NIGHT),
    ]
    for what, value, bar in rows:
        verdict = "" if bar is None else ("holds" if value <= bar else "FALLS SHORT")
        print(f"{what:52s} {value:9.2f} {'' if bar is None else f'<= {bar:g}':>8s} {verdict}")
    print(f"{treatments} treatments of {len(judged)} persons, a year each", file=sys.stderr)


if __name__ == "__main__":
    main()
