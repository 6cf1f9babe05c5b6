"""The signed reference: the number as a clinician saw it on a day, with all that it rested on, and whether it holds.

It is recorded whole and never changed. A typed name is no authentication; whatever shows a reference says so.
"""

from datetime import date
from typing import Annotated, Final, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from gramrise.domain.care_plan import FAST_GROWTH_UNDER_YEARS, PLAN_MONTHS, PLAN_MONTHS_FAST_GROWTH, CarePlan
from gramrise.domain.dates import months_later, whole_years
from gramrise.domain.person import Person
from gramrise.domain.sources import Source

# The reference ends with the card's limit of weight, since amounts are computed from both. Our choice, as for the card.
WEIGHT_CHANGE: Final = 0.05
# Strengths closer than this, as a share, are one strength written with other decimals.
SAME_STRENGTH: Final = 1e-3

Verdict = Literal["accepted", "seen_not_accepted"]
EndedBy = Literal["withdrawn", "expired", "bands", "delivery", "weight", "sources"]


class Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class SignedBand(Part):
    """One time band as it was signed; null where no number could be given."""

    band: str
    hours: str
    factor_mg_dl_per_g: float | None
    p05_factor_mg_dl_per_g: float | None
    p95_factor_mg_dl_per_g: float | None
    weight_adjusted_mg_dl_kg_per_g: float | None
    pairings_used: int
    state: str


class SignedSource(Part):
    """A source and its strength on that day."""

    name: str
    grams_per_unit: float
    unit: str  # piece | mL
    stated_as: str


class SignedReference(Part):
    """One sign-off. Dates are local dates of the person; `as_of` is the day that the number is of."""

    person_id: str
    number: Annotated[int, Field(ge=1)]  # 1, 2, ... of this person; never used twice
    signed_at_utc: AwareDatetime
    signed_by: Annotated[str, Field(min_length=1)]
    role: str = ""
    verdict: Verdict = "accepted"
    as_of: date
    bands: tuple[SignedBand, ...]
    weight_kg: float | None = None
    weighed_on: date | None = None
    delivery: str = ""
    settings: str = ""  # of the delivery, in the clinician's own words
    sources: tuple[SignedSource, ...] = ()
    data_from: date | None = None
    data_to: date | None = None
    set_aside: dict[str, int] = Field(default_factory=dict)  # reason: pairings set aside for it
    plan_version: str = ""  # the day from which the plan holds
    plan_amounts: dict[str, float] = Field(default_factory=dict)  # g
    valid_until: date
    cards_superseded: tuple[int, ...] = ()
    told: str = ""
    note: str = ""
    model_version: str
    withdrawn_on: date | None = None

    @property
    def accepted(self) -> bool:
        return self.verdict == "accepted"


def reference_ends(person: Person, as_of: date) -> date:
    """The last day of a reference where none is named: as long as a care plan of that day could hold.

    Our choice: the number follows the body as the plan does, so it is looked at again as often.
    """
    plan = person.care_plan.on(as_of) or CarePlan()
    fast = plan.in_puberty or whole_years(person.born, as_of) < FAST_GROWTH_UNDER_YEARS
    return months_later(as_of, PLAN_MONTHS_FAST_GROWTH if fast else PLAN_MONTHS)


def ended_by(
    reference: SignedReference, person: Person, weight_kg_now: float | None, today: date
) -> tuple[EndedBy, ...]:
    """Everything that ends a reference by a day; empty: it holds.

    weight_kg_now   body weight on that day, carried along growth; None: not known, which ends nothing here
    """
    before = reference.weight_kg
    moved = before is not None and weight_kg_now is not None and abs(weight_kg_now / before - 1) >= WEIGHT_CHANGE - 1e-9
    bands = [(band.name, band.hours) for band in person.bands.on_or_first(today) or ()]
    asked: dict[EndedBy, bool] = {
        "withdrawn": reference.withdrawn_on is not None and reference.withdrawn_on <= today,
        "expired": today > reference.valid_until,
        "bands": bands != [(band.band, band.hours) for band in reference.bands],
        "delivery": (person.delivery.on(today) or "") != reference.delivery,
        "weight": moved,
        "sources": not _same_strengths(reference.sources, person.sources.on(today) or ()),
    }
    return tuple(code for code, holds in asked.items() if holds)


def signed_sources(sources: tuple[Source, ...]) -> tuple[SignedSource, ...]:
    return tuple(
        SignedSource(
            name=source.name,
            grams_per_unit=source.glucose_per_unit_g,
            unit=source.unit.value,
            stated_as=source.stated_as.value,
        )
        for source in sources
    )


def _same_strengths(signed: tuple[SignedSource, ...], now: tuple[Source, ...]) -> bool:
    """Whether every signed source still has its strength. A further source says nothing about the number."""
    held = {source.name: source for source in signed_sources(now)}
    return all(
        one.name in held
        and held[one.name].unit == one.unit
        and abs(held[one.name].grams_per_unit / one.grams_per_unit - 1) <= SAME_STRENGTH
        for one in signed
    )
