"""Whether a band may have amounts, and on what they rest: the estimate's state joined with what the source adds."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

import polars as pl

from gramrise.domain.person import CarePlan, Person
from gramrise.domain.reasons import Verdict
from gramrise.domain.sources import AmountUnit, Form, Source
from gramrise.domain.starting import BAND_SD_LOG, EVENT_SD_LOG, PERSON_SD_LOG, TRIALS
from gramrise.domain.words import Delivery, State
from gramrise.estimate import StateSettings, last_delivery_change, weight_is_young
from gramrise.report.card.facts import local_day, whole_years
from gramrise.report.card.settings import CardSettings

# Reasons for withholding a whole band, keys `on_card.withheld.*` of the words files, the gravest first.
UNDER_YOUNGEST: Final = "under_2"
NO_PIECES_YET: Final = "no_pieces_under_4"
STRENGTH_UNKNOWN: Final = "strength_unknown"
WEIGHT_UNKNOWN: Final = "weight_unknown"
AUTOMATED: Final = "automated"
DELIVERY_CHANGED: Final = "delivery_changed"
ESTIMATE: Final = "estimate"  # the estimate withholds for a reason not seen here

# Columns of FACTORS without which no amount is the person's own.
OWN_NUMBERS: Final = ("weight_adjusted_mg_dl_kg_per_g", "sd_log", "event_sd_log")


@dataclass(frozen=True, slots=True)
class BandBasis:
    """What one band's amounts rest on. `sd_log` and `event_sd_log` are spreads of the natural log."""

    state: State
    reasons: tuple[str, ...]
    factor_mg_dl_per_g: float | None
    sd_log: float
    event_sd_log: float
    treatments_n: int


def card_reasons(
    person: Person, source: Source | None, weight_kg: float | None, today: date, rules: CardSettings, settles_days: int
) -> tuple[str, ...]:
    """Why no band of this card may have amounts; empty where nothing stands against it. `source` None: unknown."""
    plan = person.care_plan.on(today) or CarePlan()
    age = whole_years(person.born, today)
    delivery, since = person.delivery.on(today), last_delivery_change(person, today)
    against = (
        (UNDER_YOUNGEST, age < rules.youngest_years),
        (NO_PIECES_YET, source is not None and may_choke_on(source) and age < rules.pieces_from_years),
        (STRENGTH_UNKNOWN, source is None),
        (WEIGHT_UNKNOWN, weight_kg is None),
        (AUTOMATED, delivery is Delivery.AUTOMATED and not plan.card_with_automated),
        (DELIVERY_CHANGED, since is not None and (today - since).days < settles_days),
    )
    return tuple(code for code, holds in against if holds)


def basis_of(
    found: dict[str, Any] | None, weight_kg: float | None, card_wide: tuple[str, ...], still_own: bool
) -> BandBasis:
    """The basis of one band.

    found      its row of FACTORS, None where the estimate says nothing of it
    weight_kg  on the card's day: the factor follows it from the day it was estimated for
    card_wide  reasons that withhold every band
    still_own  what made it the person's own on the estimate's day holds on the card's day too
    """
    state = State(found["state"]) if found is not None else State.THIN
    used = int(found["pairings_used"]) if found is not None else 0
    reasons = card_wide or ((ESTIMATE,) if state is State.WITHHELD else ())
    if reasons or weight_kg is None:
        return BandBasis(State.WITHHELD, reasons or (WEIGHT_UNKNOWN,), None, 0.0, 0.0, used)
    if found is not None and state is State.OWN and still_own and all(found[name] is not None for name in OWN_NUMBERS):
        adjusted, sd_log, event_sd_log = (float(found[name]) for name in OWN_NUMBERS)
        return BandBasis(State.OWN, (), adjusted / weight_kg, sd_log, event_sd_log, used)
    start = TRIALS.factor_mg_dl_per_g(weight_kg)
    return BandBasis(State.THIN, (), start, (PERSON_SD_LOG**2 + BAND_SD_LOG**2) ** 0.5, EVENT_SD_LOG, used)


def may_choke_on(source: Source) -> bool:
    """Tablets, candies, and pieces of which nobody said what they are."""
    return source.form is Form.TABLET or (source.form is Form.UNKNOWN and source.unit is AmountUnit.PIECE)


def is_still_own(pairings: pl.DataFrame, band: str, person: Person, now_utc: datetime, rules: StateSettings) -> bool:
    """Whether the rules for the person's own amounts that age with time hold at `now_utc`.

    pairings  PAIRINGS of the person; findings of a year ago must not print a card as measured today
    """
    since = now_utc - timedelta(days=rules.used_within_days)
    recent = pairings.filter(
        pl.col("band") == band, pl.col("verdict") == Verdict.USED, pl.col("first_dose_utc").is_between(since, now_utc)
    )
    return recent.height >= rules.least_used_pairings and weight_is_young(person, local_day(person, now_utc), rules)
