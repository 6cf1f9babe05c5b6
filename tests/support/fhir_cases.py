"""A sign-off and a drift as FHIR is written from them."""

from datetime import UTC, date, datetime

import polars as pl

from gramrise.domain.frames import DRIFT
from gramrise.domain.references import SignedBand, SignedReference, SignedSource
from support.report_people import NOW

AS_OF = date(2026, 11, 17)


def signed_reference(number=1, **changed):
    whole = SignedReference(
        person_id="mia",
        number=number,
        signed_at_utc=datetime(2026, 11, 17, 9, tzinfo=UTC),
        signed_by="Dr. A. Example",
        role="diabetologist",
        as_of=AS_OF,
        bands=(
            SignedBand(
                band="daytime", hours="07:00-22:00", factor_mg_dl_per_g=9.3, p05_factor_mg_dl_per_g=7.4,
                p95_factor_mg_dl_per_g=11.7, weight_adjusted_mg_dl_kg_per_g=270.0, pairings_used=40, state="own",
            ),
        ),
        weight_kg=29.0,
        sources=(SignedSource(name="tablets", grams_per_unit=0.92, unit="piece", stated_as="anhydrous"),),
        valid_until=date(2027, 5, 17),
        note="again in spring",
        model_version="5",
    )  # fmt: skip
    return whole.model_copy(update=changed)


def drift_frame(**changed):
    row = {
        "person_id": "mia", "band": "daytime", "reference_date": AS_OF, "as_of_utc": NOW, "ratio": 0.76,
        "ratio_p05": 0.66, "ratio_p25": 0.72, "ratio_p75": 0.8, "ratio_p95": 0.87, "growth_ratio": 0.94,
        "beyond_ratio": 0.81, "beyond_p05": 0.7, "beyond_p95": 0.93, "probability_moved": 0.97, "finding": "moved",
        "shape": "step", "change_date": None, "change_date_p05": None, "change_date_p95": None, "pairings_since": 31,
        "pairings_before": 40,
    }  # fmt: skip
    return DRIFT.check(pl.DataFrame([row | changed], schema=DRIFT.schema))
