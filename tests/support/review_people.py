"""Invented people as the clinic sees them: a week drawn by hand, with sign-offs, drift, nights shown and events."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache
from typing import Any

import polars as pl

from gramrise.domain import frames
from gramrise.domain.batch import Question
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery
from gramrise.estimate import WeekLevel
from gramrise.report.review.numbers.build import ReviewKnown, person_review
from gramrise.report.review.numbers.view import (
    DriftLine,
    PersonReview,
    PlanAmount,
    SetAside,
    SignedBand,
    SignOff,
    SourceStrength,
)
from support.report_people import BORN, HOSTILE, NOW, TABLETS, a_week, person

SIGNED_ON = date(2026, 11, 17)
SIGNED_AT = datetime(2026, 11, 17, 9, 30, tzinfo=UTC)


def sign_off(number: int = 2, *, accepted: bool = True, **changed: Any) -> SignOff:
    whole = SignOff(
        number=number,
        signed_at_utc=SIGNED_AT + timedelta(days=number - 2),
        signed_by="Dr. A. Example",
        role="diabetologist",
        accepted=accepted,
        as_of=SIGNED_ON,
        bands=(
            SignedBand(
                band="daytime", hours="07:00-22:00", factor_mg_dl_per_g=9.3, p05_mg_dl_per_g=7.4, p95_mg_dl_per_g=11.7,
                weight_adjusted_mg_dl_kg_per_g=270.0, pairings_used=40, state="own",
            ),
        ),
        weight_kg=29.0,
        weighed_on=date(2026, 9, 1),
        delivery="pump",
        settings="basal profile 3",
        sources=(SourceStrength(name="tablets", grams_per_unit=0.92, unit="piece"),),
        data_from=date(2026, 3, 1),
        data_to=SIGNED_ON,
        set_aside=(SetAside(reason="mixed_with_food", count=3),),
        plan_version="2",
        plan_amounts=(PlanAmount(name="standard_grams", grams=9.0),),
        valid_until=date(2027, 5, 17),
        cards_superseded=(12,),
        told="both parents",
        note="again in spring",
        model_version="5",
        holds_not=(),
    )  # fmt: skip
    return whole.model_copy(update=changed)


def drift_line(**changed: Any) -> DriftLine:
    """By day 1 g raises 24 % less than signed; 6 of it is growth."""
    whole = DriftLine(
        band="daytime", hours="07:00-22:00", reference_on=SIGNED_ON, ratio=0.76, ratio_p05=0.66, ratio_p25=0.72,
        ratio_p75=0.80, ratio_p95=0.87, growth_ratio=0.94, beyond_ratio=0.81, beyond_p05=0.70, beyond_p95=0.93,
        probability_moved=0.97, finding="moved", shape="step", change_on=date(2026, 11, 19),
        change_p05_on=date(2026, 11, 18), change_p95_on=date(2026, 11, 20), pairings_since=31, listed=True,
    )  # fmt: skip
    return whole.model_copy(update=changed)


def shown() -> pl.DataFrame:
    """What three nights of one week, and one a fortnight before it, showed of each band."""
    nights = [NOW - timedelta(days=days) for days in (20, 5, 3, 1)]
    return pl.DataFrame(
        [
            {
                "shown_at": at, "band": band, "factor_mg_dl_per_g": factor + at.day / 100,
                "p05_factor_mg_dl_per_g": factor * 0.8, "p95_factor_mg_dl_per_g": factor * 1.25, "pairings_used": 12,
                "state": "own", "model_version": "5",
            }
            for at in nights
            for band, factor in (("daytime", 9.0), ("overnight", 11.0))
        ]
    ).with_columns(pl.col("shown_at").cast(frames.UTC))  # fmt: skip


def levels() -> tuple[WeekLevel, ...]:
    weeks = [date(2026, 11, 22) - timedelta(days=7 * back) for back in range(12, -1, -1)]
    return tuple(
        WeekLevel(band, week, factor - at * 0.15, (factor - at * 0.15) * 0.8, (factor - at * 0.15) * 1.25)
        for band, factor in (("daytime", 9.2), ("overnight", 12.0))
        for at, week in enumerate(weeks)
    )


def event(who: Person, at: datetime, kind: str, amount: float | None = None, text: str = "") -> dict[str, Any]:
    return {"person_id": who.person_id, "at_utc": at, "until_utc": None, "kind": kind, "amount": amount, "text": text}


def with_events(inputs: Inputs, *events: dict[str, Any]) -> Inputs:
    return replace(inputs, events=frames.EVENTS.check(pl.DataFrame(list(events), schema=frames.EVENTS.schema)))


def review(inputs: Inputs, found: Findings, **known: Any) -> PersonReview:
    return person_review(inputs, found, NOW, ReviewKnown(**known))


@cache
def everyone() -> dict[str, PersonReview]:
    """The people whose pages must hold, by what is hard about them."""
    return {
        "signed": _signed(),
        "unsigned": review(*a_week()),
        "german_mmol": _german(),
        "no_data": _no_data(),
        "hostile": _hostile(),
    }


def _changed_person(**more: Any) -> Person:
    """Somebody whose delivery, strength and weight changed in the week."""
    stronger = Source("tablets", Form.TABLET, grams_per_piece=1.0, stated_as=StatedAs.ANHYDROUS)
    told = {
        "delivery": Dated(((BORN, Delivery.INJECTIONS), (date(2026, 11, 18), Delivery.PUMP))),
        "sources": Dated(((BORN, (TABLETS,)), (date(2026, 11, 19), (stronger,)))),
        "weights_kg": Dated(((date(2026, 9, 1), 29.0), (date(2026, 11, 20), 30.0))),
    }
    return person(**(told | more))


def _signed() -> PersonReview:
    who = _changed_person()
    inputs, found = a_week(who)
    inputs = with_events(
        inputs,
        event(who, NOW - timedelta(days=3), "illness", text="a cold"),
        event(who, NOW - timedelta(days=2), "insulin", 4.0),
        event(who, NOW - timedelta(days=1), "note", text="Why is she low after swimming?"),
    )
    asked = Question("mia", "bare_amount", "1", "asked", (), {"text": "3", "amount": 3.0})
    return review(
        inputs,
        found,
        shown=shown(),
        levels=levels(),
        drift=(drift_line(),),
        sign_offs=(sign_off(2), sign_off(1, accepted=False)),
        questions=(asked,),
    )


def _german() -> PersonReview:
    who = _changed_person(language="de", unit=GlucoseUnit.MMOL_L, name="Kim Beispiel")
    inputs, found = a_week(who, low_hours=tuple(2.7 * k + 1 for k in range(60)))
    more = (drift_line(ratio=1.2, growth_ratio=0.99),)
    return review(inputs, found, shown=shown(), levels=levels(), drift=more, sign_offs=(sign_off(),))


def _no_data() -> PersonReview:
    who = person(name="", weights_kg=Dated())
    return review(Inputs(who), Findings(as_of_utc=NOW))


def _hostile() -> PersonReview:
    who = person(name=HOSTILE, sources=Dated(((BORN, (Source(HOSTILE, Form.TABLET, grams_per_piece=0.92),)),)))
    inputs, found = a_week(who)
    inputs = with_events(inputs, event(who, NOW - timedelta(days=1), "note", text=HOSTILE))
    named = found.treatments.with_columns(sources=pl.lit([HOSTILE]))
    signed = sign_off(signed_by=HOSTILE, role=HOSTILE, told=HOSTILE, note=HOSTILE)
    return review(inputs, replace(found, treatments=named), sign_offs=(signed,), levels=levels())
