"""State of a band's number: the person's own, thin, or withheld. The numbers: settings [state].

Our choice: a number is withheld where no table fits (weight, age) or insulin just began to act otherwise, and the
person's own only where treatments, their agreement, what was foretold and the weight all speak for it.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import polars as pl

from gramrise.domain.person import Person
from gramrise.domain.words import State
from gramrise.estimate.settings import StateSettings
from gramrise.estimate.treatment.prediction_check import coverage


@dataclass(frozen=True, slots=True)
class BandEvidence:
    """What the state of one band rests on."""

    used_dates: list[date]  # local dates of its used pairings
    interval_ratio: float  # high / low of the 90 % interval
    predictions: pl.DataFrame  # PREDICTIONS of this band's treatments


def withheld(person: Person, day: date, settings: StateSettings) -> bool:
    """No number may be given: weight unknown, too young, or insulin delivery just changed."""
    changed = last_delivery_change(person, day)
    return (
        not person.weights_kg.entries
        or person.age_years(day) < settings.least_age_years
        or (changed is not None and day < changed + timedelta(days=settings.delivery_settles_days))
    )


def state_of_band(person: Person, day: date, evidence: BandEvidence, settings: StateSettings) -> State:
    """`own` only where everything speaks for it; `day` is the local date."""
    if withheld(person, day, settings):
        return State.WITHHELD
    since = day - timedelta(days=settings.used_within_days)
    recent = sum(since < used <= day for used in evidence.used_dates)
    own = (
        recent >= settings.least_used_pairings
        and evidence.interval_ratio <= settings.most_interval_ratio
        and predictions_hold(evidence.predictions, settings)
        and weight_is_young(person, day, settings)
    )
    return State.OWN if own else State.THIN


def predictions_hold(predictions: pl.DataFrame, settings: StateSettings) -> bool:
    """Whether the last predictions covered as often as they should.

    With fewer treatments than the rule asks for, "too often" cannot be told from luck, so only "too seldom" counts.
    """
    share, treatments_n = coverage(predictions, settings.coverage_last_treatments)
    if share is None or share < settings.least_coverage:
        return False
    return share <= settings.most_coverage or treatments_n < settings.coverage_last_treatments


def weight_is_young(person: Person, day: date, settings: StateSettings) -> bool:
    """Under 18 the last weighing must be recent; grown-ups' weights may be old."""
    weighed = [on for on, _ in person.weights_kg.entries]
    if not weighed:
        return False
    grown = person.age_years(day) >= settings.weight_ages_under_years
    return grown or min(abs((day - on).days) for on in weighed) < settings.weight_within_days


def delivery_changes(person: Person) -> list[date]:
    """Local dates on which insulin delivery became another; the first entry is no change."""
    entries = person.delivery.entries
    return [on for (_, before), (on, after) in pairwise(entries) if after != before]


def last_delivery_change(person: Person, day: date) -> date | None:
    """The latest change of delivery by a local date."""
    return max((on for on in delivery_changes(person) if on <= day), default=None)
