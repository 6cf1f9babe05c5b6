"""A night of many persons: throughput of one and two workers, cost a person by the size of the panel, memory.

Run: python tests/benchmark/workers.py [PERSONS ...] [--days D] [--frame-only N]    (100 300, 30 days if not said)
Each size is one home with D days of history for everybody and one new day in each inbox. `--frame-only N` runs a pass
over N persons whose findings are not computed: what the pass itself costs, which is what grows with the panel.
Throughput is told by CPU: where the machine has more to do than cores, wall clock tells of the others.
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import resource
import sys
import tempfile
import time
from pathlib import Path

from many_persons import home_of

from gramrise.nightly import nightly_settings, run_night
from gramrise.store import Store

WAYS = {
    "here": {"workers": "here"},
    "1 process": {"workers": "processes", "worker_processes": 1},
    "2 processes": {"workers": "processes", "worker_processes": 2},
}
# Cost a person at the largest panel against the smallest; memory of the pass at both, MB more.
BAR_COST, BAR_MEMORY_MB = 1.3, 60


def megabytes() -> float:
    """The most memory this process has held, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def cpu_seconds() -> float:
    """CPU of this process and of its workers that have ended."""
    own, others = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    return own.ru_utime + own.ru_stime + others.ru_utime + others.ru_stime


def one_night(persons: int, days: int, told: dict) -> tuple[float, float]:
    """Wall and CPU seconds of one night over a home made for it."""
    with tempfile.TemporaryDirectory() as folder:
        home, now = home_of(Path(folder), persons, days)
        settings = nightly_settings(home).model_copy(update=told)
        with Store.open(home) as store:
            begun, at_work = time.perf_counter(), cpu_seconds()
            night = run_night(store, home, now, settings=settings)
            took, spent = time.perf_counter() - begun, cpu_seconds() - at_work
        assert (night.persons, night.failed, night.files) == (persons, 0, persons), night.held[:3]
    return took, spent


def frame_only(persons: int) -> tuple[float, float]:
    """Wall and CPU seconds of a pass over persons whose findings are not computed."""
    from gramrise.nightly.workers import persons as nights

    # Questions about what was not logged read findings, and would compute those that are missing.
    computed = nights.bring_up_to_date, nights.ask_about_unlogged
    nights.bring_up_to_date = nights.ask_about_unlogged = lambda *_, **__: None
    try:
        return one_night(persons, 1, {"workers": "here"})
    finally:
        nights.bring_up_to_date, nights.ask_about_unlogged = computed


def main() -> None:
    words = sys.argv[1:]
    days = int(words.pop(words.index("--days") + 1)) if "--days" in words else 30
    frames = int(words.pop(words.index("--frame-only") + 1)) if "--frame-only" in words else 0
    sizes = [int(word) for word in words if word.isdigit()] or [100, 300]
    one_night(4, 5, WAYS["here"])  # libraries are loaded and compiled once
    print(f"{days} days of history, one new day, the first night of each; {os.cpu_count()} cores")
    print(f"{'persons':>8}  {'way':<12}{'wall s':>9}{'CPU s':>9}{'CPU s a person':>16}{'persons a CPU s':>17}{'MB':>7}")
    cost, memory = {}, {}
    for persons in sizes:
        for way, told in WAYS.items():
            took, spent = one_night(persons, days, told)
            row = f"{persons:>8}  {way:<12}{took:>9.1f}{spent:>9.1f}{spent / persons:>16.3f}{persons / spent:>17.2f}"
            print(f"{row}{megabytes():>7.0f}", flush=True)
            if way == "here":
                cost[persons], memory[persons] = spent / persons, megabytes()
    small, large = min(sizes), max(sizes)
    grown = cost[large] / cost[small]
    print(f"CPU a person, {large} against {small}: {grown:.2f} / bar {BAR_COST} / {verdict(grown <= BAR_COST)}")
    more = memory[large] - memory[small]
    print(
        f"memory, {large} against {small}: {more:+.0f} MB / bar {BAR_MEMORY_MB} MB / {verdict(more <= BAR_MEMORY_MB)}"
    )
    for persons in [frames // 10, frames] if frames else []:
        took, spent = frame_only(persons)
        told = f"{took:.1f} s wall, {1000 * spent / persons:.1f} ms CPU a person"
        print(f"the pass alone, {persons} persons: {told}", flush=True)
    if max(*sizes, frames) < 10_000:
        print("10,000 persons / NOT RUN (say 10000)")


def verdict(holds: bool) -> str:
    return "holds" if holds else "FALLS SHORT"


if __name__ == "__main__":
    main()
