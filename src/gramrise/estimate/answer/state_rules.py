"""State of a band's number: the person's own, thin, or withheld. The numbers: settings [state].

Our choice: a number is withheld where no table fits (weight, age) or insulin delivery just changed. It is the person's
own only where the number of treatments, the interval, the predictions and the weight all allow it.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

import polars as pl

from gramrise.domain.person import Person
from gramrise.domain.words import Outcome, State
from gramrise.estimate.levels import delivery_changes
from gramrise.estimate.settings import StateSettings
from gramrise.estimate.treatment import coverage

DEEP_LEVEL: Final = 2  # of a low: below 54 mg/dL for 15 minutes, as consensus counts it


@dataclass(frozen=True, slots=True)
class BandEvidence:
    """What the state of one band rests on."""

    used_dates: list[date]  # local dates of its used pairings
    interval_ratio: float  # high / low of the 90 % interval
    predictions: pl.DataFrame  # PREDICTIONS of this band's treatments
    unnoticed_low: bool = False  # a deep low lately that nobody noticed, by a log that tells who noticed


@dataclass(frozen=True, slots=True)
class Lack:
    """One thing a band's number lacks to be called the person's own. `count`: how many more; 0 where none is counted.

    code   treatments | predictions | interval | foretold_badly | foretold_wide | weighing | unnoticed_low |
           new_findings
    """

    code: str
    count: int = 0


def withheld_because(person: Person, day: date, settings: StateSettings) -> tuple[str, ...]:
    """Why no number may be given on a local day: weight_unknown | under_2 | delivery_changed; empty: it may."""
    changed = last_delivery_change(person, day)
    against = (
        ("weight_unknown", not person.weights_kg.entries),
        ("under_2", person.age_years(day) < settings.least_age_years),
        ("delivery_changed", changed is not None and day < changed + timedelta(days=settings.delivery_settles_days)),
    )
    return tuple(code for code, holds in against if holds)


def lacks_of(person: Person, day: date, evidence: BandEvidence, settings: StateSettings) -> tuple[Lack, ...]:
    """What a band's number lacks to be the person's own on a local day; empty where everything speaks for it."""
    since = day - timedelta(days=settings.used_within_days)
    missing = settings.least_used_pairings - sum(since < used <= day for used in evidence.used_dates)
    foretold = _lack_of_predictions(evidence.predictions, settings)
    lacks = (
        (Lack("treatments", missing), missing > 0),
        (Lack("interval"), evidence.interval_ratio > settings.most_interval_ratio),
        (Lack(foretold), bool(foretold)),
        (Lack("weighing"), not weight_is_young(person, day, settings)),
        (Lack("unnoticed_low"), evidence.unnoticed_low),
    )
    return tuple(lack for lack, lacking in lacks if lacking)


def state_of_band(person: Person, day: date, evidence: BandEvidence, settings: StateSettings) -> State:
    """The state of a band; `own` only where every rule holds. `day` is the local date."""
    if withheld_because(person, day, settings):
        return State.WITHHELD
    return State.THIN if lacks_of(person, day, evidence, settings) else State.OWN


def latest_unnoticed_low(
    doses: pl.DataFrame, lows: pl.DataFrame, at_utc: datetime, settings: StateSettings
) -> datetime | None:
    """The start of the latest level 2 low of the last days that nobody noticed; None without one.

    doses, lows  DOSES and LOWS until `at_utc`. Only a log that tells who noticed can tell that nobody did: where no
                 glucose given of these days says who, nothing is concluded. A low to which nothing is logged although
                 the trace turned as after glucose was noticed by somebody who did not write it down.
    """
    since = at_utc - timedelta(days=settings.unnoticed_within_days)
    if doses.filter(pl.col("noticed") != "", pl.col("taken_at_utc") > since).is_empty():
        return None
    nobody = pl.col("outcome").is_in([Outcome.NOTHING_LOGGED.value, Outcome.EASED.value])
    likely = pl.col("probability_treated").fill_null(0.0) >= settings.noticed_from_probability
    found = lows.filter(pl.col("level") == DEEP_LEVEL, pl.col("start_utc") > since, nobody, ~likely)["start_utc"].max()
    return found if isinstance(found, datetime) else None


def predictions_hold(predictions: pl.DataFrame, settings: StateSettings) -> bool:
    """Whether the last predictions covered as often as they should."""
    return not _lack_of_predictions(predictions, settings)


def _lack_of_predictions(predictions: pl.DataFrame, settings: StateSettings) -> str:
    """predictions (there are none) | foretold_badly (covered too seldom) | foretold_wide (too often) | "".

    With fewer treatments than the rule asks for, "too often" cannot be told from luck, so only "too seldom" counts.
    """
    share, treatments_n = coverage(predictions, settings.coverage_last_treatments)
    if share is None:
        return "predictions"
    if share < settings.least_coverage:
        return "foretold_badly"
    wide = share > settings.most_coverage and treatments_n >= settings.coverage_last_treatments
    return "foretold_wide" if wide else ""


def weight_is_young(person: Person, day: date, settings: StateSettings) -> bool:
    """Under 18 the last weighing must be recent, under 6 more so; grown-ups' weights may be old."""
    weighed = [on for on, _ in person.weights_kg.entries]
    if not weighed:
        return False
    age = person.age_years(day)
    grown, small = age >= settings.weight_ages_under_years, age < settings.small_child_under_years
    within_days = settings.small_child_weight_within_days if small else settings.weight_within_days
    return grown or min(abs((day - on).days) for on in weighed) < within_days


def last_delivery_change(person: Person, day: date) -> date | None:
    """The latest change of delivery by a local date."""
    return max((on for on in delivery_changes(person) if on <= day), default=None)
