"""Made-up persons and evidence for the tests of the levels."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from gramrise.domain.frames import PAIRINGS, PREDICTIONS, SCREENED
from gramrise.domain.person import Dated, Person
from gramrise.estimate.levels.evidence import Evidence

NOON = datetime(2026, 3, 2, 18, tzinfo=UTC)  # 12:00 in Chicago
NIGHT = datetime(2026, 3, 3, 8, tzinfo=UTC)  # 02:00 in Chicago
AS_OF = datetime(2026, 6, 1, 12, tzinfo=UTC)


def person(kg=32.0, weighed=date(2026, 5, 1), born=date(2016, 1, 1), **more):
    """A child of ten in Chicago; default bands, weighed a month before AS_OF."""
    weights = Dated(((weighed, kg),)) if kg is not None else Dated()
    return Person("mia", born, Dated(((date(2016, 1, 1), ZoneInfo("America/Chicago")),)), weights_kg=weights, **more)


def evidence(ratios, sd=0.2, band=0, week=0, delivery_changes=0, per_mg_dl=0.0):
    """Evidence of treatments whose measured factor is `ratios` times the starting table's."""
    n = len(ratios)
    return Evidence(
        ratio=np.asarray(ratios, dtype=float),
        ratio_sd=np.broadcast_to(np.asarray(sd, dtype=float), (n,)).copy(),
        ratio_per_mg_dl=np.broadcast_to(np.asarray(per_mg_dl, dtype=float), (n,)).copy(),
        band=np.broadcast_to(np.asarray(band), (n,)).copy(),
        week=np.broadcast_to(np.asarray(week), (n,)).copy(),
        delivery_changes=np.broadcast_to(np.asarray(delivery_changes), (n,)).copy(),
    )


def screened_row(first=NOON, grams=10.0, verdict="used", reasons=(), band="daytime", **more):
    row = {
        "person_id": "mia",
        "first_dose_utc": first,
        "last_dose_utc": first,
        "class": "for_low",
        "doses_n": 1,
        "grams": grams,
        "sources": ["tin"],
        "form": "tablet",
        "band": band,
        "low_start_utc": None,
        "verdict": verdict,
        "reasons": list(reasons),
        "window_from_utc": first - timedelta(minutes=90),
        "window_to_utc": first + timedelta(minutes=90),
        "start_seen_mg_dl": 65.0,
        "rise_seen_mg_dl": 40.0,
        "slope_mg_dl_per_min": -1.0,
        "insulin_on_board_units": None,
    }
    return row | more


def screened(*rows):
    return SCREENED.check(pl.DataFrame(list(rows), schema=SCREENED.schema))


def pairings(factors, start=NOON, every=timedelta(days=2), kg=32.0, sd=1.0, **more):
    """Used pairings with the given factors, one each `every`."""
    rows = []
    for i, factor in enumerate(factors):
        extra = {
            "weight_kg": kg,
            "start_estimated_mg_dl": 65.0,
            "rise_estimated_mg_dl": factor * 10.0,
            "factor_mg_dl_per_g": factor,
            "factor_sd_mg_dl_per_g": sd,
        }
        rows.append(screened_row(first=start + i * every, **more) | extra)
    return PAIRINGS.check(pl.DataFrame(rows, schema=PAIRINGS.schema))


def told(inside):
    """PREDICTIONS of one treatment per flag, one reading each."""
    frame = pairings([5.0] * len(inside)).select("person_id", "first_dose_utc")
    frame = frame.with_columns(
        minutes_after=pl.lit(30, pl.Int32),
        predicted_mg_dl=100.0,
        p05_mg_dl=80.0,
        p95_mg_dl=120.0,
        seen_mg_dl=100.0,
        inside=pl.Series(inside, dtype=pl.Boolean),
    )
    return PREDICTIONS.check(frame)
