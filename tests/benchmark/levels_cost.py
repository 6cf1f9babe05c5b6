"""What the levels cost: 10,000 persons x 1 year on one core, one person's night, memory.

    python tests/benchmark/levels_cost.py [--persons 10000]

Persons are drawn plainly (about one used treatment every second day); one is learned after another, nothing is kept.
"""

import argparse
import resource
import sys
import time

import numpy as np

from gramrise.estimate.levels.band_levels import filtering_update, level_model, levels_at, prior_state
from gramrise.estimate.levels.evidence import Evidence
from gramrise.estimate.levels.smoothing import smoothed_history
from gramrise.estimate.settings import shipped

WEEKS, TREATMENTS_A_YEAR = 52, 180
MINUTES_ALL, MS_NIGHT, MB_GROWTH = 4.0, 20.0, 20.0


def drawn(rng, bands_n=2):
    count = int(rng.poisson(TREATMENTS_A_YEAR))
    band = rng.integers(0, bands_n, count)
    level = 0.35 * rng.normal() + 0.28 * rng.normal(size=bands_n)
    sd = rng.uniform(0.2, 0.8, count)
    ratio = np.exp(level[band] + 0.45 * rng.normal(size=count)) + sd * rng.normal(size=count)
    week = np.sort(rng.integers(0, WEEKS, count))
    return Evidence(ratio, sd, rng.uniform(0.005, 0.03, count), band, week, np.zeros(count, dtype=np.int64))


def one_year(evidence, model):
    """A full night's work on one person: what was foretold of each treatment, then the answer."""
    return levels_at(smoothed_history(evidence, 2, model).state, WEEKS, 0, model)


def megabytes():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def bar(name, value, limit, holds):
    print(f"| {name} | {value} | {limit} | {'holds' if holds else 'FALLS SHORT'} |")
    return holds


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--persons", type=int, default=10_000)
    persons = asked.parse_args().persons
    model, rng = level_model(shipped().levels), np.random.default_rng(1)
    for _ in range(20):
        one_year(drawn(rng), model)
    memory, spent, nights = megabytes(), 0.0, []
    for _ in range(persons):
        evidence = drawn(rng)
        begin = time.process_time()
        one_year(evidence, model)
        spent += time.process_time() - begin
    for _ in range(50):
        evidence = drawn(rng)
        state, _ = filtering_update(prior_state(2, model), evidence.part(slice(0, -1)), model)
        begin = time.process_time()
        levels_at(filtering_update(state, evidence.part(slice(-1, None)), model)[0], WEEKS, 0, model)
        nights.append((time.process_time() - begin) * 1e3)
    minutes, full_ms = spent / 60 * 10_000 / persons, spent / persons * 1e3
    print(f"levels, {persons} persons x 1 year, about {TREATMENTS_A_YEAR} used treatments each, one core")
    print("| what | measured | bar | |\n| --- | --- | --- | --- |")
    holds = [
        bar("10,000 persons x 1 year, minutes", f"{minutes:.1f}", f"< {MINUTES_ALL}", minutes < MINUTES_ALL),
        bar("one person's year learned afresh, ms", f"{full_ms:.1f}", f"< {MS_NIGHT}", full_ms < MS_NIGHT),
        bar(
            "one new treatment on a kept state, ms",
            f"{np.median(nights):.2f}",
            f"< {MS_NIGHT}",
            np.median(nights) < MS_NIGHT,
        ),
        bar("memory grown, MB", f"{megabytes() - memory:.0f}", f"< {MB_GROWTH}", megabytes() - memory < MB_GROWTH),
    ]
    return 0 if all(holds) else 1


if __name__ == "__main__":
    sys.exit(main())
