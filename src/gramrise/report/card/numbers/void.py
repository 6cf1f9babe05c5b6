"""Whether a card still holds: a pure comparison of what it was made with and what is so now, for the nightly check."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from math import ceil, floor
from typing import Final

from gramrise.domain.bands import TimeBand
from gramrise.domain.person import Person
from gramrise.domain.sources import Source
from gramrise.report.card.numbers.facts import (
    bands_on,
    local_day,
    plan_on,
    school_on,
    source_named,
    target_on,
    weight_kg_on,
)
from gramrise.report.card.numbers.view import CardView, PlanView
from gramrise.report.words import Words, words_for

# Strengths closer than this, as a share, are the same strength written with other decimals.
SAME_STRENGTH: Final = 1e-3
# What the floats of a weight and a share of it may miss, kg: 95 % of 32 kg are 30.4.
_SAME_KG: Final = 1e-9


@dataclass(frozen=True, slots=True)
class VoidReason:
    """Why a card no longer holds: a code, and its sentence in the card's language (words `on_card.void.*`)."""

    code: str
    sentence: str


def void_reasons(view: CardView, person_now: Person, now_utc: datetime) -> tuple[VoidReason, ...]:
    """Everything that ends a card, in the order of its words; empty: it still holds.

    view        as it was made and kept
    person_now  the same person with today's facts
    """
    words = words_for(view.language, view.unit, "UTC")
    return tuple(
        VoidReason(code, words.say(f"on_card.void.{code}", **values))
        for code, values in _changes(view, person_now, now_utc, words)
    )


def _changes(view: CardView, person: Person, now_utc: datetime, words: Words) -> Iterator[tuple[str, dict[str, str]]]:
    today = local_day(person, now_utc)
    if (person.name, person.born) != (view.name, view.born):
        yield "name", {}
    source = source_named(person, view.source.name, today)
    before_g = view.source.glucose_per_unit_g
    if source is None and before_g is not None:
        yield "source_gone", {"source": view.source.name}
    elif source is not None and before_g is None:
        yield "strength_told", {"source": view.source.name}
    elif source is not None and before_g is not None and _other_strength(source, before_g, view.source.unit):
        yield "strength", {"source": view.source.name, "grams": words.number(before_g, 2)}
    yield from _changed_weight(view, weight_kg_on(person, today), words)
    if view.school is None and _hours(bands_on(person, today)) != [(band.name, band.hours) for band in view.bands]:
        yield "bands", {}
    if (person.delivery.on(today) or "") != view.delivery:
        yield "delivery", {}
    if _agreed(plan_on(person, today, None, view.rules)) != _agreed(view.plan):
        yield "plan", {}
    if view.school is not None and source is not None and school_on(person, today, source, view.rules) != view.school:
        yield "school", {}
    if view.school is None and abs(target_on(person, today, view.rules) - view.target_mg_dl) > 0.05:
        yield "target", {}
    if person.unit != view.unit:
        yield "unit", {"now": str(person.unit)}
    if today > view.valid_until:
        yield "expired", {"until": words.day(view.valid_until, "medium")}


def _changed_weight(view: CardView, weight: float | None, words: Words) -> Iterator[tuple[str, dict[str, str]]]:
    if view.weight_kg is not None and weight is None:
        yield "weight_unknown", {}
    elif view.weight_kg is None and weight is not None:
        yield "weight_known", {"now": words.number(weight, 1)}
    elif view.weight_kg is not None and weight is not None and weight_has_changed(view, weight):
        yield "weight", {"before": words.number(view.weight_kg, 1), "now": words.number(weight, 1)}


def weight_limits_kg(weight_kg: float, share: float) -> tuple[float, float]:
    """At the first weight or less, and at the second or more, a card made at `weight_kg` ends; printed and acted on.

    To a tenth of a kg, as scales show, and towards the card's own weight: nobody keeps a card too long.
    """
    low, high = weight_kg * (1 - share), weight_kg * (1 + share)
    return ceil(10 * low - _SAME_KG) / 10, floor(10 * high + _SAME_KG) / 10


def weight_has_changed(view: CardView, now_kg: float) -> bool:
    """Whether body weight has moved by the share that ends the card, or was not known when it was made."""
    if view.weight_kg is None:
        return True
    low, high = weight_limits_kg(view.weight_kg, view.rules.weight_change)
    return now_kg <= low + _SAME_KG or now_kg >= high - _SAME_KG


def _other_strength(source: Source, before_g: float, before_unit: str) -> bool:
    return source.unit != before_unit or abs(source.glucose_per_unit_g / before_g - 1) > SAME_STRENGTH


def _hours(bands: tuple[TimeBand, ...]) -> list[tuple[str, str]]:
    return [(band.name, band.hours) for band in bands]


def _agreed(plan: PlanView) -> PlanView:
    """The plan without its grams counted out in pieces: that is the source's matter."""
    amounts = ("below_54", "standard", "early", "automated", "second")
    kept = {name: getattr(plan, name) for name in amounts}
    bare = {name: each and each.model_copy(update={"units": None}) for name, each in kept.items()}
    return plan.model_copy(update=bare)
