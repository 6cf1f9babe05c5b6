"""Invented people for the card's tests: what the estimate found is written by hand, so that nothing else moves."""

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.domain.care_plan import CarePlan, SchoolPlan
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.frames import FACTORS, PAIRINGS, PREDICTIONS
from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.words import Delivery
from gramrise.report.card import CardView, card_view

NOW = datetime(2026, 11, 24, 12, tzinfo=UTC)
TODAY = date(2026, 11, 24)
SMALL_PIECES = Source("pocket tin", Form.TABLET, grams_per_piece=0.92, stated_as=StatedAs.ANHYDROUS)
BIG_PIECES = Source("large tablets", Form.TABLET, grams_per_piece=4.0, stated_as=StatedAs.ANHYDROUS)
LIQUID = Source("night bottle", Form.LIQUID, grams_per_ml=0.25, stated_as=StatedAs.ANHYDROUS, sealed=False)
GEL = Source("gel", Form.GEL, grams_per_ml=0.4, stated_as=StatedAs.ANHYDROUS)
SCHOOL = SchoolPlan(
    grams=10,
    year_from=date(2026, 9, 1),
    year_until=date(2027, 6, 30),
    authorised_by_parent="Ada Okafor",
    authorised_on=date(2026, 9, 2),
    staff=("Ms. Reyes", "Mr. Olsen"),
    kit="red bag in the office: tablets, meter, glucagon",
    kit_expires_on=date(2027, 4, 30),
    glucagon_where="first-aid cupboard, school office",
)
PLAN = CarePlan(
    standard_grams=10,
    below_54_grams=10,
    look_again_minutes=15,
    second_grams=10,
    early_grams_allowed=True,
    early_grams=None,
    contacts=("Mother 0555 0100", "Clinic 0555 0111"),
    glucagon_where="red bag, top shelf",
    approved_by="Dr. A. Lind",
    approved_role="paediatric diabetologist",
    approved_on=date(2026, 9, 1),
    school=SCHOOL,
)


def always(value: Any) -> Dated[Any]:
    return Dated(((date.min, value),))


def person(plan: CarePlan = PLAN, **changed: Any) -> Person:
    """Mira, 10 years, 32 kg, pump."""
    facts: dict[str, Any] = {
        "person_id": "mira",
        "born": date(2016, 3, 1),
        "zone": always(ZoneInfo("America/Chicago")),
        "name": "Mira Okafor",
        "weights_kg": Dated(((TODAY, 32.0),)),
        "delivery": always(Delivery.PUMP),
        "care_plan": always(plan),
        "sources": always((SMALL_PIECES, BIG_PIECES, LIQUID, GEL)),
    }
    return Person(**(facts | changed))


def factors(
    weight_kg: float | None = 32.0,
    daytime: float = 9.0,
    overnight: float = 6.5,
    state: str = "own",
    sd_log: float = 0.14,
    event_sd_log: float = 0.35,
) -> pl.DataFrame:
    """FACTORS of the two usual bands."""
    rows = [
        {
            "person_id": "mira",
            "band": band,
            "as_of_utc": NOW,
            "weight_kg": weight_kg,
            "factor_mg_dl_per_g": factor,
            "p05_factor_mg_dl_per_g": factor * 0.8,
            "p95_factor_mg_dl_per_g": factor * 1.25,
            "starting_mg_dl_per_g": 9.9,
            "weight_adjusted_mg_dl_kg_per_g": None if weight_kg is None else factor * weight_kg,
            "pairings_used": used,
            "state": state,
            "sd_log": sd_log,
            "sd_log_lasting": 0.1,
            "event_sd_log": event_sd_log,
        }
        for band, factor, used in (("daytime", daytime, 21), ("overnight", overnight, 14))
    ]
    return pl.DataFrame(rows, schema=FACTORS.schema)


def pairings(daytime: int = 21, overnight: int = 14, days_ago: int = 1) -> pl.DataFrame:
    """So many used pairings of each band, one a day, the last `days_ago`."""
    rows = [
        {
            "person_id": "mira",
            "first_dose_utc": NOW - timedelta(days=days_ago + n, hours=0 if band == "daytime" else 6),
            "band": band,
            "verdict": "used",
            "weight_kg": 32.0,
            "factor_mg_dl_per_g": 8.0,
        }
        for band, count in (("daytime", daytime), ("overnight", overnight))
        for n in range(count)
    ]
    if not rows:
        return PAIRINGS.empty()
    missing = [pl.lit(None, dtype).alias(name) for name, dtype in PAIRINGS.schema.items() if name not in rows[0]]
    return PAIRINGS.check(pl.DataFrame(rows).with_columns(pl.col("first_dose_utc").dt.cast_time_unit("us"), *missing))


def predictions(of: pl.DataFrame, inside: bool = True) -> pl.DataFrame:
    """One prediction of each pairing, with a reading that lay inside its interval or not."""
    seen = 90.0 if inside else 130.0
    return PREDICTIONS.check(
        of.select(
            "person_id",
            "first_dose_utc",
            minutes_after=pl.lit(30, PREDICTIONS.schema["minutes_after"]),
            predicted_mg_dl=pl.lit(95.0),
            p05_mg_dl=pl.lit(70.0),
            p95_mg_dl=pl.lit(120.0),
            seen_mg_dl=pl.lit(seen),
            inside=pl.lit(inside),
        )
    )


def card(
    source: Source | str = SMALL_PIECES,
    who: Person | None = None,
    found: Any = None,
    used: Any = None,
    foretold: Any = None,
    **how: Any,
) -> CardView:
    """A card of `who` (else Mira) with the factors `found` (else her own) and the pairings `used` (else plenty)."""
    used = pairings() if used is None else used
    findings = Findings(
        NOW,
        factors=factors() if found is None else found,
        pairings=used,
        predictions=predictions(used) if foretold is None else foretold,
    )
    return card_view(Inputs(who or person()), findings, source, **({"now_utc": NOW, "number": 12} | how))


def amounts(view: CardView, band: str = "daytime") -> list[int | None]:
    """A band's amounts from the lowest readings up."""
    return [cell.amount for row in view.rows for cell in row.cells if cell.band == band]


def reasons(view: CardView) -> set[str]:
    return {cell.reason for row in view.rows for cell in row.cells}
