"""Simulated days of many persons in one process: nothing fails, memory is flat.

Run: python tests/benchmark/nightly_soak.py [PERSONS [DAYS]]      (50 persons, 30 days unless said otherwise)
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import sys
import tempfile
from pathlib import Path
from time import process_time

import tests_on_path  # noqa: F401 - support and virtual lie in tests
from support.soak import soak

MOST_GROWTH_MB = 60  # our choice: over the last two thirds of the days; one night's frames of 50 persons are more


def main() -> None:
    persons = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    days = int(sys.argv[2]) if len(sys.argv) > 2 else 30
    begun = process_time()
    with tempfile.TemporaryDirectory() as folder:
        memory = soak(Path(folder) / "home", persons, days)
    took = process_time() - begun
    growth = memory[-1] - memory[len(memory) // 3]
    each = took / persons / days
    verdict = "holds" if growth <= MOST_GROWTH_MB else "FALLS SHORT"
    print(f"{persons} persons, {days} days: {took:.0f} s CPU, {each:.3f} s a person and night, no failure")
    print("MB after each night: " + " ".join(f"{mb:.0f}" for mb in memory))
    print(f"memory, last night against a third of the way: {growth:+.0f} MB / bar {MOST_GROWTH_MB} MB / {verdict}")


if __name__ == "__main__":
    main()
