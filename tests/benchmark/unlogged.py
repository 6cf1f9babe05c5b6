"""Bars of what families did not log: recoveries that look treated, weak glucose, hours that repeat.

Run: python tests/benchmark/unlogged.py [persons a physiology, default 60] [--only looks|weak|hours]. What was looked at
when choosing: settings of config/place.toml were set by hand on seeds 51 and 52; the seeds below were run after that.
"""

import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from math import log
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from cohorts import Part, parts
from scipy.stats import rankdata
from weak_truth import found_at_sixty_ideal, judged

from gramrise.detect import detect
from gramrise.domain.frames import DOSES, EVENTS
from gramrise.place import looks_treated, own_turns, place_settings, repeating_hours
from gramrise.place.settings import PlaceSettings

PHYSIOLOGIES = ("first", "second", "third")
SEEDS = (61, 62, 63, 64)
DAYS = 90
MINUTE_US = 60_000_000
LEAST = 30  # cases below which a bar is not judged
EDGES = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0001)
NULL_PERSONS, ALTERED_PERSONS = 400, 100
SEASON, WEEKS = 91, 13
UTC_ZONE = ZoneInfo("UTC")


def main() -> None:
    asked = ArgumentParser(description=__doc__)
    asked.add_argument("persons", nargs="?", type=int, default=60)
    asked.add_argument("--only", choices=("looks", "weak", "hours"))
    told = asked.parse_args()
    rules = place_settings()
    for physiology in PHYSIOLOGIES if told.only != "hours" else ():
        made = list(parts(physiology, told.persons, SEEDS, DAYS))
        if told.only != "weak":
            _looks(physiology, made, rules)
        if told.only != "looks":
            _weak(physiology, made, rules)
    if told.only in {None, "hours"}:
        _hours(rules)


def _bar(what: str, measured: str, bar: str, holds: bool | None) -> None:
    word = "" if not bar else "NOT RUN" if holds is None else "holds" if holds else "FALLS SHORT"
    print(f"  {what:44} {measured:44} {bar:10} {word}", flush=True)


def _looks(physiology: str, made: list[Part], rules: PlaceSettings) -> None:
    """Families that log nothing at all, and families that log food and insulin but no glucose."""
    for name, events in (("nothing logged", False), ("food and insulin logged, no glucose", True)):
        stated, true = _stated(made, rules, events=events)
        print(f"\n{physiology} physiology, {name}: {true.size} lows, glucose given for {true.mean():.0%}")
        if min(true.sum(), (~true).sum()) < LEAST:
            _bar("area under the ROC curve", "too few lows", ">= 0.80", None)
            continue
        area = _area(stated, true)
        _bar("area under the ROC curve", f"{area:.3f}", ">= 0.80", area >= 0.80)
        for low, high in pairwise(EDGES):
            some = (stated >= low) & (stated < high)
            if some.sum() >= LEAST:
                seen = f"{true[some].mean():.0%} given of {some.sum()}"
                _bar(f"stated {low:.1f} to {min(high, 1):.1f}, mean {stated[some].mean():.0%}", seen, "", None)


def _stated(made: list[Part], rules: PlaceSettings, *, events: bool) -> tuple[np.ndarray, np.ndarray]:
    """(probability stated, whether glucose was given) of every low with nothing logged."""
    stated, true = [], []
    for part in made:
        for inputs in part.made.inputs:
            silent = replace(inputs, doses=DOSES.empty(), events=inputs.events if events else EVENTS.empty())
            lows = detect(silent, inputs.readings["at_utc"][-1] + timedelta(days=1)).lows
            mine = part.made.truth_doses.filter(pl.col("person_id") == inputs.person.person_id)
            taken = np.sort(mine["taken_at_utc"].cast(pl.Int64).to_numpy())
            ends = dict(lows.select("start_utc", "end_utc").iter_rows())
            for each in looks_treated(silent, lows, own_turns(silent, rules), rules):
                stated.append(each.probability)
                true.append(_given(taken, each.start_utc, ends[each.start_utc]))
    return np.array(stated), np.array(true, dtype=bool)


def _given(taken_us: np.ndarray, start: datetime, end: datetime) -> bool:
    from_us, to_us = (int(at.timestamp() * 1e6) for at in (start, end))
    return bool(np.searchsorted(taken_us, to_us) > np.searchsorted(taken_us, from_us - 30 * MINUTE_US))


def _area(stated: np.ndarray, true: np.ndarray) -> float:
    ranks, given = rankdata(stated), int(true.sum())
    return float((ranks[true].sum() - given * (given + 1) / 2) / (given * (true.size - given)))


def _weak(physiology: str, made: list[Part], rules: PlaceSettings) -> None:
    """One of two sources gives 0.909 of what is written on it, from the first use on."""
    found = judged(made, rules)
    print(f"\n{physiology} physiology: {len(found)} pairs of sources with 60 uses of the one, 0.909 against right")
    if len(found) < LEAST:
        _bar("found within 60 uses", "too few", ">= 50 %", None)
        return
    false, right = (float(np.mean([each[k] for each in found])) for k in (0, 1))
    sd = float(np.median([each[2] for each in found]))
    _bar("false alarms", f"{false:.1%}", "<= 5 %", false <= 0.05)
    _bar("found within 60 uses", f"{right:.0%}; sd of the log ratio {sd:.3f}", ">= 50 %", right >= 0.5)
    ideal = found_at_sixty_ideal([each[3] for each in found])
    _bar("ideal: one look, true rises' scatter 0.45 known", f"{ideal:.0%}", "", None)


def _hours(rules: PlaceSettings) -> None:
    """A season of weekly reports, each over the season before it."""
    print("\nhours that repeat: persons with any finding in a quarter of weekly looks")
    share = float(np.mean([_any_found(_person([70, n], None), rules, range(WEEKS)) for n in range(NULL_PERSONS)]))
    _bar(f"nothing repeats, {NULL_PERSONS} persons", f"{share:.1%}", "<= 5 %", share <= 0.05)
    for name, effect in (("a quarter of lows moved to 02-05", "night"), ("sport on Tuesdays, 16-19", "sport")):
        altered = [_any_found(_person([71, n], effect), rules, (WEEKS,)) for n in range(ALTERED_PERSONS)]
        _bar(f"{name}: found at one look", f"{np.mean(altered):.0%} of {ALTERED_PERSONS}", "", None)


def _person(seed: list[int], effect: str | None) -> tuple[list[datetime], list[tuple[datetime, float]]]:
    """Half a year of lows at any hour, some in clusters, days of different kinds, amounts that vary."""
    rng = np.random.default_rng(seed)
    a_day, kg = rng.uniform(0.3, 1.5), rng.uniform(15, 60)
    lows, given = [], []
    for nth, start in _days():
        for _ in range(rng.poisson(a_day * rng.gamma(2, 0.5))):
            hour = rng.uniform(2, 5) if effect == "night" and rng.random() < 0.25 else rng.uniform(0, 24)
            lows.append(start + timedelta(hours=hour))
            if rng.random() < 0.3:
                lows.append(lows[-1] + timedelta(hours=rng.uniform(0.5, 2.5)))
            if rng.random() < 0.8:
                given.append((lows[-1], float(np.exp(rng.normal(log(0.15 * kg), 0.4)))))
        if effect == "sport" and nth % 7 == 1 and rng.random() < 0.6:
            lows.append(start + timedelta(hours=rng.uniform(16, 19)))
            given.append((lows[-1], 0.15 * kg))
    return lows, given


def _days() -> Iterator[tuple[int, datetime]]:
    first = datetime.combine(date(2025, 1, 6), time(), UTC)  # a Monday
    return ((nth, first + timedelta(days=nth)) for nth in range(SEASON + 7 * WEEKS))


def _any_found(
    made: tuple[list[datetime], list[tuple[datetime, float]]], rules: PlaceSettings, weeks: range | tuple[int, ...]
) -> bool:
    lows, given = made
    covered = {start.date() for _, start in _days()}
    first = date(2025, 1, 6) + timedelta(days=SEASON - 1)
    ends = [first + timedelta(days=7 * week) for week in weeks]
    return any(repeating_hours(lows, given, covered, end, UTC_ZONE, rules).found for end in ends)


if __name__ == "__main__":
    sys.exit(main())
