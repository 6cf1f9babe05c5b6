"""Bars of what was not logged, on virtual cohorts of all physiologies: counts laid on recoveries.

Run: python tests/benchmark/placing.py [persons a physiology, default 60]. What was looked at when choosing: the
settings of config/place.toml were set by hand on seeds 51 and 52; the seeds below were run only after that.
"""

import sys
from math import log

import numpy as np
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from cohorts import parts
from place_ideal import knowing_rules
from place_truth import INTERVALS, Case, cases

from gramrise.place import place_settings

PHYSIOLOGIES = ("first", "second")
SEEDS = (61, 62, 63, 64)
DAYS = 90
MOST_CANDIDATES = 6
DECIDABLE = 0.7
LEAST = 30  # cases below which a bar is not judged


def main() -> None:
    persons = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    seeds = tuple(int(word) for word in sys.argv[2:]) or SEEDS
    rules = place_settings()
    for physiology in PHYSIOLOGIES:
        made = [case for part in parts(physiology, persons, seeds, DAYS) for case in cases(part, rules)]
        few = [case for case in made if len(case.placed.recoveries) <= MOST_CANDIDATES]
        knowing = knowing_rules(few, rules)
        for interval in INTERVALS:
            mine = [case for case in few if case.interval == interval]
            _layings(f"{physiology} physiology, {interval}", mine)
            ideal = [_right(case.laid_by(knowing)) for case in mine]
            print(f"  {'ideal: settings and factor are the truth':32} {np.mean(ideal):.0%} right")


def _layings(name: str, made: list[Case]) -> None:
    print(f"\n{name}: {len(made)} counts with pieces nobody logged, at most {MOST_CANDIDATES} recoveries")
    if len(made) < LEAST:
        print("  NOT RUN: too few counts")
        return
    right = np.array([_right(case) for case in made])
    first = np.array([case.placed.laid.layings[0].probability for case in made])
    score = np.array([_log_probability(case) for case in made])
    uniform = np.array([-log(case.placed.laid.ways) for case in made])
    _bar("top laying right", f"{right.mean():.0%}", ">= 60 %", right.mean() >= 0.60)
    _bar(
        "mean log score, uniform", f"{score.mean():.2f}, {uniform.mean():.2f}", "higher", score.mean() > uniform.mean()
    )
    middle = (first >= 0.55) & (first < 0.85)
    if middle.sum() >= LEAST:
        off = abs(right[middle].mean() - first[middle].mean())
        told = f"{first[middle].mean():.0%} stated, {right[middle].mean():.0%} true of {middle.sum()}"
        _bar("stated about 70 %", told, "within 10 points", off <= 0.10)
    else:
        _bar("stated about 70 %", f"{middle.sum()} counts", "within 10 points", None)
    sure = first >= DECIDABLE
    told = f"{sure.mean():.0%}, right in {right[sure].mean():.0%}" if sure.any() else "0 %"
    print(f"  {'decidable (top at least 70 %)':32} {told}")
    by_n = {n: right[[len(c.placed.recoveries) == n for c in made]] for n in range(MOST_CANDIDATES + 1)}
    print(
        "  by recoveries: "
        + ", ".join(f"{n}: {part.mean():.0%} of {len(part)}" for n, part in by_n.items() if len(part))
    )
    places = np.array([_right_places(case) for case in made])
    print(f"  {'right places, pieces aside':32} {places.mean():.0%}")


def _right(case: Case) -> bool:
    top = case.placed.laid.layings[0]
    return (top.pieces, top.elsewhere) == (case.truth, case.elsewhere)


def _right_places(case: Case) -> bool:
    top = case.placed.laid.layings[0]
    return [n > 0 for n in top.pieces] == [n > 0 for n in case.truth]


def _log_probability(case: Case) -> float:
    """Log probability of the true laying; one that is not among those returned gets the rest, spread evenly."""
    laid = case.placed.laid
    for laying in laid.layings:
        if laying.pieces == case.truth:
            return log(max(laying.probability, 1e-12))
    left = 1 - sum(laying.probability for laying in laid.layings)
    return log(max(left, 1e-9) / max(1, laid.ways - len(laid.layings)))


def _bar(what: str, measured: str, bar: str, holds: bool | None) -> None:
    word = "NOT RUN" if holds is None else "holds" if holds else "FALLS SHORT"
    print(f"  {what:32} {measured:40} {bar:18} {word}")


if __name__ == "__main__":
    main()
