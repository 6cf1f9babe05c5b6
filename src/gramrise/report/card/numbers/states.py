"""Whether there may be a card at all, and on what each band's amounts rest."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from gramrise.domain.care_plan import CarePlan, contradictions, last_day_of
from gramrise.domain.dates import whole_years
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.person import Person
from gramrise.domain.sources import AmountUnit, Form, Source
from gramrise.domain.words import Delivery, State
from gramrise.estimate import Lack, StateSettings, band_state, factor_row, last_delivery_change, weight_is_young
from gramrise.report.card.numbers.facts import known_weights, local_day, weight_kg_on
from gramrise.report.card.settings import CardSettings

# Reasons for which there is no card, keys `on_card.withheld.*` of the words files.
UNDER_YOUNGEST: Final = "under_2"
NO_PIECES_YET: Final = "no_pieces_under_4"
UNKNOWN_PIECES: Final = "unknown_pieces_under_5"
STRENGTH_UNKNOWN: Final = "strength_unknown"
WEIGHT_UNKNOWN: Final = "weight_unknown"
WEIGHING_OLD: Final = "weighing_old"
PLAN_MISSING: Final = "plan_missing"
PLAN_NO_SECOND_LOOK: Final = "plan_no_second_look"
PLAN_EXPIRED: Final = "plan_expired"
PLAN_LESS_BELOW_54: Final = "plan_less_below_54"
AUTOMATED: Final = "automated"
DELIVERY_CHANGED: Final = "delivery_changed"
FINDINGS_OLD: Final = "findings_old"
# Those that concern computed amounts only: a card of one amount of the plan does not hang on them.
OF_COMPUTED_AMOUNTS: Final = frozenset({AUTOMATED, DELIVERY_CHANGED, FINDINGS_OLD})


@dataclass(frozen=True, slots=True)
class BandBasis:
    """What one band's amounts rest on.

    state    own: computed from the factor; thin: the care plan's amounts; withheld: none, for `reasons`
    lacks    what a thin band lacks to be the person's own
    factor   the posterior's median, the same number as on screen and in the report; None where none was found
    sd_log   of the factor, and `event_sd_log` of single treatments: spreads of the natural log; of `own` bands only
    """

    state: State
    treatments_n: int
    reasons: tuple[str, ...] = ()
    lacks: tuple[Lack, ...] = ()
    factor_mg_dl_per_g: float | None = None
    sd_log: float | None = None
    event_sd_log: float | None = None


def reasons_for_no_card(
    inputs: Inputs,
    source: Source | None,
    found: Findings,
    now_utc: datetime,
    rules: CardSettings,
    states: StateSettings,
) -> tuple[str, ...]:
    """Why there is no card; empty where nothing stands against it. `source` None: its strength is not known."""
    person = inputs.person
    today = local_day(person, now_utc)
    plan = person.care_plan.on(today)
    return (
        *_against_the_plan(person, plan, now_utc, weight_kg_on(person, today)),
        *_against_the_source(source, whole_years(person.born, today), rules),
        *_against_the_person(person, plan, now_utc, rules, states),
        *((FINDINGS_OLD,) if findings_are_old(inputs, found, now_utc, rules) else ()),
    )


def _against_the_plan(
    person: Person, plan: CarePlan | None, now_utc: datetime, weight_kg: float | None
) -> tuple[str, ...]:
    today = local_day(person, now_utc)
    if plan is None or plan.below_54_grams is None:
        return (PLAN_MISSING,)
    begins = max(since for since, _ in person.care_plan.entries if since <= today)
    against = (
        (PLAN_NO_SECOND_LOOK, plan.look_again_minutes is None or plan.second_grams is None),
        (PLAN_EXPIRED, today > last_day_of(plan, person.born, begins)),
    )
    return (*(code for code, holds in against if holds), *contradictions(plan, weight_kg))


def _against_the_source(source: Source | None, age_years: int, rules: CardSettings) -> tuple[str, ...]:
    if source is None:
        return (STRENGTH_UNKNOWN,)
    if not may_choke_on(source):
        return ()
    if age_years < rules.pieces_from_years:
        return (NO_PIECES_YET,)
    unknown = source.form is Form.UNKNOWN
    return (UNKNOWN_PIECES,) if unknown and age_years < rules.hard_sweets_from_years else ()


def _against_the_person(
    person: Person, plan: CarePlan | None, now_utc: datetime, rules: CardSettings, states: StateSettings
) -> tuple[str, ...]:
    today = local_day(person, now_utc)
    delivery, since = person.delivery.on(today), last_delivery_change(person, today)
    settled = since is None or (today - since).days >= states.delivery_settles_days
    known = known_weights(person, today)
    against = (
        (UNDER_YOUNGEST, whole_years(person.born, today) < rules.youngest_years),
        (WEIGHT_UNKNOWN, not known.weights_kg.entries),
        (WEIGHING_OLD, bool(known.weights_kg.entries) and not weight_is_young(known, today, states)),
        (AUTOMATED, delivery is Delivery.AUTOMATED and (plan is None or plan.automated_grams is None)),
        (DELIVERY_CHANGED, not settled),
    )
    return tuple(code for code, holds in against if holds)


def findings_are_old(inputs: Inputs, found: Findings, now_utc: datetime, rules: CardSettings) -> bool:
    """Whether the findings, or the last reading they rest on, are of long ago, or of another body weight than today's.

    A night that finds nothing new dates its findings anew; the reading tells how old they are.
    """
    last = inputs.readings["at_utc"].max()
    known_until = min(found.as_of_utc, last) if isinstance(last, datetime) else found.as_of_utc
    if now_utc - known_until > timedelta(days=rules.findings_within_days):
        return True
    today = weight_kg_on(inputs.person, local_day(inputs.person, now_utc))
    weights = found.factors["weight_kg"].drop_nulls()
    return today is not None and bool(((weights / today - 1).abs() >= rules.weight_change).any())


def basis_of(
    person: Person, found: Findings, band: str, no_card: tuple[str, ...], now_utc: datetime, states: StateSettings
) -> BandBasis:
    """The basis of one band; `no_card`: reasons that withhold every band."""
    row = factor_row(found, band)
    used = int(row["pairings_used"]) if row is not None else 0
    if no_card:
        return BandBasis(State.WITHHELD, used, no_card)
    state = band_state(person, found, band, now_utc, states)
    if state.state is State.WITHHELD:
        return BandBasis(State.WITHHELD, used, state.withheld)
    factor = None if row is None else row["factor_mg_dl_per_g"]
    computed_for = person.delivery.on(local_day(person, now_utc)) is not Delivery.AUTOMATED
    if state.state is State.OWN and computed_for and row is not None and factor is not None:
        return BandBasis(State.OWN, used, (), (), factor, row["sd_log"], row["event_sd_log"])
    return BandBasis(State.THIN, used, (), state.lacks, factor)


def may_choke_on(source: Source) -> bool:
    """Tablets, candies, and pieces of which nobody said what they are."""
    return source.form is Form.TABLET or (source.form is Form.UNKNOWN and source.unit is AmountUnit.PIECE)


def may_be_swallowed(source: Source, age_years: int, rules: CardSettings) -> bool:
    """Whether a source is for this age at all: what can choke is not offered to the very young."""
    return not _against_the_source(source, age_years, rules)
