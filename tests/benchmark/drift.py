"""Power and false alarms of drift under weekly reading, the pairings it needs, a panel of 200, and what it costs.

Run: python tests/benchmark/drift.py [--persons N] [--seed N]
Persons are drawn at the level of measured treatments: two bands with 3 and 2 a week, 30 weeks before the reference.
"""

import argparse
from time import process_time

import numpy as np
import tests_on_path  # noqa: F401 - support lies in tests
from support.drift_chains import shipped_model
from support.drift_people import (
    BANDS,
    all_changes,
    as_weighed,
    drawn,
    ideal_odds,
    known_by,
    moved_at,
    weighings_by,
    wobble,
)

from gramrise.domain.drift import listed_as_moved

DOWN, UP = float(np.log(0.75)), float(np.log(1.25))
SIZES = (DOWN, UP)
SCATTERS = (0.30, 0.45)
STEP_WEEK = 9
WEEKS_SINCE = (4, 12, 26)
YEAR, LAST = 52, 44
# Bars of the design.
MOST_PAIRINGS, LEAST_POWER, MOST_FALSE, MOST_PAIRINGS_RATIO = 80, 0.80, 0.05, 1.3
PANEL, PLANTED, PANEL_SECONDS = 200, 20, 60.0
NEVER = 10**6


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--persons", type=int, default=100)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--scatter", type=float, nargs="*", default=SCATTERS, help="none: the panel alone")
    asked = options.parse_args()
    model = shipped_model()
    for scatter in asked.scatter:
        one_scatter(scatter, asked.persons, asked.seed, model)
    panel(asked.seed, model)


def one_scatter(scatter, persons, seed, model):
    rng = np.random.default_rng(seed)
    steady = [drawn(rng, scatter) for _ in range(persons)]
    alarms = np.mean([first_look(each, YEAR, range(BANDS), model) < NEVER for each in steady])
    says(f"scatter {scatter:.2f}: steady person-years with an alarm, all bands", alarms, MOST_FALSE, above=False)
    grown = np.mean([first_look(each, YEAR, range(BANDS), model, wobble(rng, YEAR)) < NEVER for each in steady])
    says(f"scatter {scatter:.2f}: the same with weights four months apart", grown, MOST_FALSE, above=False)
    best = [[ideal_odds(each, band, YEAR, scatter, SIZES, model) for band in range(BANDS)] for each in steady]
    share = max(float(alarms), 1.0 / persons)
    date_free = np.quantile([max(band[0].max() for band in each) for each in best], 1.0 - share)
    dated = np.quantile([max(band[1][:, 0].max() for band in each) for each in best], 1.0 - share)
    for name, steps in {
        "-25 %": (DOWN, 0.0),
        "+25 %": (UP, 0.0),
        "-25 % all": (DOWN, DOWN),
        "+25 % all": (UP, UP),
    }.items():
        stepped = [drawn(rng, scatter, steps, STEP_WEEK, LAST) for _ in range(max(persons // 2, 1))]
        bands = range(BANDS) if steps[1] else (0,)
        looks = np.array([first_look(each, LAST, bands, model, since=STEP_WEEK) for each in stepped])
        power(f"scatter {scatter:.2f}, step {name}", looks, stepped)
        if not steps[1]:
            wrongly_held(stepped, model)
            yardsticks(scatter, looks, stepped, date_free, dated, model)


def first_look(treated, last, bands, model, z=None, since=1):
    """The first week in which the rule calls one of the bands moved; NEVER where it does not."""
    whole, weighings = treated.measured(model), None
    for look in range(since, last + 1):
        if z is not None and weighings_by(look) != weighings:
            whole, weighings = as_weighed(treated, z, look).measured(model), weighings_by(look)
        found = moved_at(known_by(whole, look), model)
        if any(found[band] for band in bands):
            return look
    return NEVER


def pairings_until(treated, look):
    """Used pairings of the first band from the step to a look."""
    since = (treated.band == 0) & (treated.week >= STEP_WEEK) & (treated.week <= look)
    return NEVER if look == NEVER else int(since.sum())


def power(name, looks, stepped):
    needed = [pairings_until(each, look) for each, look in zip(stepped, looks, strict=True)]
    by_week = "  ".join(f"{weeks} weeks {np.mean(looks < STEP_WEEK + weeks):4.0%}" for weeks in WEEKS_SINCE)
    says(
        f"{name}: flagged within {MOST_PAIRINGS} pairings of the band",
        np.mean(np.array(needed) <= MOST_PAIRINGS),
        LEAST_POWER,
    )
    print(f"    {by_week}; median pairings of the band needed {np.median(needed):.0f}")


def wrongly_held(stepped, model):
    """How many of the bands that changed are called held: the costly word to be wrong about."""
    for weeks in WEEKS_SINCE[1:]:
        found = [
            all_changes(known_by(each.measured(model), STEP_WEEK + weeks - 1), model)[0].finding for each in stepped
        ]
        print(f"    called held {weeks} weeks after the step: {found.count('held')} of {len(found)}")


def yardsticks(scatter, looks, stepped, date_free, dated, model):
    """Pairings needed beside tests that know size and scatter, and one that knows the date as well."""
    ours = np.median([pairings_until(each, look) for each, look in zip(stepped, looks, strict=True)])
    odds = [ideal_odds(each, 0, LAST, scatter, SIZES, model) for each in stepped]
    for name, reached, barred in (
        ("size and scatter", [each[0] >= date_free for each in odds], True),
        ("size, scatter and date", [each[1][:, STEP_WEEK - 1] >= dated for each in odds], False),
    ):
        first = [_first(each, STEP_WEEK) for each in reached]
        needed = [pairings_until(each, look) for each, look in zip(stepped, first, strict=True)]
        within = np.mean(np.array(needed) <= MOST_PAIRINGS)
        ratio = ours / np.median(needed)
        verdict = f"bar {MOST_PAIRINGS_RATIO:g}" if barred else "no bar: nobody knows the date"
        told = f"{within:4.0%}, median {np.median(needed):.0f}; ours needs x {ratio:.2f}, {verdict}"
        print(f"    a test that knows {name}: {told}")


def _first(reached, since):
    looks = np.flatnonzero(reached[since - 1 :])
    return int(looks[0]) + since if len(looks) else NEVER


def panel(seed, model):
    """200 persons half a year after the reference, 20 of whom changed by a quarter or more in the first weeks."""
    rng = np.random.default_rng(seed + 1)
    changed = [n < PLANTED for n in range(PANEL)]
    people = []
    for planted in changed:
        size = rng.choice(SIZES) * rng.uniform(1.0, 1.6) * planted
        people.append(drawn(rng, rng.choice(SCATTERS), (size, size * rng.integers(0, 2)), 5, 30))
    started = process_time()
    found = [all_changes(known_by(each.measured(model), 30), model) for each in people]
    seconds = process_time() - started
    best = [max((c.probability_moved for c in each if c.finding == "moved"), default=0.0) for each in found]
    listed, expected = listed_as_moved(best)
    true_n = sum(changed[n] for n in listed)
    top = sorted(range(PANEL), key=lambda n: -best[n])[:PLANTED]
    print(f"panel of {PANEL}, {PLANTED} planted: {len(listed)} listed, {true_n} of them planted, expected share of")
    print(f"    false alarms {expected:.0%}; planted among the first {PLANTED}: {sum(changed[n] for n in top)}")
    says(f"CPU seconds for {PANEL} persons", seconds, PANEL_SECONDS, above=False, form=".1f")
    print(f"    for 1,000: {seconds * 1000 / PANEL:.0f} s")


def says(what, value, bar, above=True, form=".1%"):
    held = value >= bar if above else value <= bar
    print(f"{what}: {value:{form}} / bar {bar:{form}} / {'holds' if held else 'FALLS SHORT'}", flush=True)


if __name__ == "__main__":
    main()
