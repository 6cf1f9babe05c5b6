"""State of a band's number: the person's own, thin, or withheld. The numbers: settings [state].

Our choice: a number is withheld where no table fits (weight, age) or insulin delivery just changed. It is the person's
own only where the number of treatments, the interval, the predictions and the weight all allow it.
"""

from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from gramrise.domain.person import Person
from gramrise.domain.words import State
from gramrise.estimate.levels import delivery_changes
from gramrise.estimate.settings import StateSettings
from gramrise.estimate.treatment import coverage


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
    """The state of a band; `own` only where every rule holds. `day` is the local date."""
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


def last_delivery_change(person: Person, day: date) -> date | None:
    """The latest change of delivery by a local date."""
    return max((on for on in delivery_changes(person) if on <= day), default=None)
