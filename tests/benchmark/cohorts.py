"""Cohorts for the benchmark: which persons, which physiology, and one person's twenty lows that nobody treated."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

import polars as pl
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from virtual import Cohort, CohortSpec, cohort
from virtual.second import SecondSpec, second_cohort
from virtual.settings import shipped
from virtual.third import ThirdSpec, third_cohort

from gramrise.detect import detect
from gramrise.detect.settings import shipped as detect_settings
from gramrise.domain.findings import Inputs
from gramrise.domain.person import Dated

# Our choice: a season. With 60 days the scatter of treatments alone leaves 7-10 % in a band of 15 or more pairings.
DAYS = 90
# Every second seed's persons have a longer history, so that bands with 40 and more pairings are not the busiest alone.
LONG_DAYS = 200
START = date(2025, 1, 6)
# Every fourth seed is a scenario of pumps that suspend themselves ahead of a low.
SUSPENDING_EVERY = 4
UNTREATED_LOWS = 20
UNTREATED_DAYS = 40


@dataclass(frozen=True, slots=True)
class Part:
    """One seed's persons."""

    physiology: str  # first | second | third
    seed: int
    made: Cohort


def parts(physiology: str, persons: int, seeds: tuple[int, ...], days: int = DAYS) -> Iterator[Part]:
    """`persons` spread evenly over the seeds, insulin logged; 5- and 15-minute sensors among them.

    days   of the first, third, ... seed's persons; the others' history is `LONG_DAYS` long where that is longer
    """
    for number, seed in enumerate(seeds):
        length = max(days, LONG_DAYS) if number % 2 else days
        share = persons // len(seeds) + (1 if number < persons % len(seeds) else 0)
        if not share:
            continue
        if physiology == "first":
            made = cohort(
                CohortSpec(
                    seed=seed,
                    persons=share,
                    days=length,
                    step_minutes=0,
                    start=START,
                    suspension=seed % SUSPENDING_EVERY == 0,
                )
            )
        else:
            spec, make = {"second": (SecondSpec, second_cohort), "third": (ThirdSpec, third_cohort)}[physiology]
            made = make(spec(seed, share, length, True, START, seed % SUSPENDING_EVERY == 0))
        yield Part(physiology, seed, made)


def without_insulin(inputs: Inputs) -> Inputs:
    """The same person where nobody logs insulin; nothing else depends on it."""
    return replace(inputs, events=inputs.events.filter(pl.col("kind") != "insulin"))


def with_untreated_lows(inputs: Inputs, made: Cohort, seed: int) -> Inputs:
    """The same person with weeks put in front in which nobody treats the lows; the log is complete there."""
    plan = next(plan for plan in made.plans if plan.person_id == inputs.person.person_id)
    ours = shipped()
    left_alone = ours.model_copy(update={"treating": ours.treating.model_copy(update={"ignored_days_share": 1.0})})
    before = cohort(
        CohortSpec(
            seed=1000 + seed,
            days=UNTREATED_DAYS,
            start=START - timedelta(days=UNTREATED_DAYS),
            people=(plan,),
            settings=left_alone,
        )
    ).inputs[0]
    first = inputs.readings["at_utc"][0]
    lows = detect(before, first, detect_settings()).lows.filter(pl.col("start_utc") < first)
    begin = lows["start_utc"][-min(UNTREATED_LOWS, lows.height)] - timedelta(hours=12)
    inside = (pl.col("at_utc") < first) & (pl.col("at_utc") >= begin)
    readings = pl.concat([before.readings.filter(inside), inputs.readings])
    events = pl.concat([before.events.filter(inside), inputs.events])
    weights = Dated((*before.person.weights_kg.entries, *inputs.person.weights_kg.entries))
    complete = Dated(((START - timedelta(days=UNTREATED_DAYS), True),))
    person = replace(inputs.person, weights_kg=weights, log_complete_from=complete)
    return replace(inputs, person=person, readings=readings, events=events)
