"""The course week by week: it ends in the number that is shown, follows a planted step, and widens by what lasts."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from gramrise.domain.findings import Findings
from gramrise.domain.frames import FACTORS, PAIRINGS
from gramrise.domain.person import Dated, Person
from gramrise.domain.starting import TAUGHT
from gramrise.estimate import level_course, shipped_settings

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
KG = 40.0
TABLE = TAUGHT.k_mg_dl_kg_per_g / KG


def _grown_up():
    from zoneinfo import ZoneInfo

    born = date(1990, 1, 1)
    return Person("p", born, Dated(((born, ZoneInfo("UTC")),)), weights_kg=Dated(((date(2020, 1, 1), KG),)))


def _findings(ratios):
    """Two treatments a day's distance apart by day, the table's factor times each of `ratios`, the last one now."""
    firsts = [NOW - timedelta(days=2 * back) for back in range(len(ratios) - 1, -1, -1)]
    rows = [
        {
            "person_id": "p", "first_dose_utc": at, "last_dose_utc": at, "class": "for_low", "doses_n": 1, "grams": 8.0,
            "sources": [], "form": "tablet", "band": "daytime", "verdict": "used", "reasons": [],
            "weight_kg": KG, "factor_mg_dl_per_g": TABLE * ratio, "factor_sd_mg_dl_per_g": 0.8,
        }
        for at, ratio in zip(firsts, ratios, strict=True)
    ]  # fmt: skip
    pairings = pl.DataFrame([{name: row.get(name) for name in PAIRINGS.schema} for row in rows], schema=PAIRINGS.schema)
    factors = [
        {
            "person_id": "p", "band": band, "as_of_utc": NOW, "weight_kg": KG, "factor_mg_dl_per_g": shown,
            "p05_factor_mg_dl_per_g": shown / 1.3, "p95_factor_mg_dl_per_g": shown * 1.3, "starting_mg_dl_per_g": TABLE,
            "weight_adjusted_mg_dl_kg_per_g": shown * KG, "pairings_used": len(ratios), "state": "own",
            "sd_log": 0.16, "sd_log_lasting": 0.1, "event_sd_log": 0.45,
        }
        for band, shown in (("daytime", TABLE * 0.7), ("overnight", TABLE))
    ]  # fmt: skip
    return Findings(
        NOW, pairings=PAIRINGS.check(pairings), factors=FACTORS.check(pl.DataFrame(factors, schema=FACTORS.schema))
    )


@pytest.fixture(scope="module")
def stepped():
    """Sixty treatments at the table's number, then sixty at 0.6 of it, with scatter."""
    draw = np.random.default_rng(5)
    ratios = np.concatenate([np.ones(60), 0.6 * np.ones(60)]) * np.exp(draw.normal(0, 0.3, 120))
    return level_course(_grown_up(), _findings(ratios), shipped_settings())


def test_the_course_ends_in_the_number_that_is_shown(stepped):
    day = [one for one in stepped if one.band == "daytime"]
    assert day[-1].week <= NOW.date() < day[-1].week + timedelta(days=7)
    assert day[-1].factor_mg_dl_per_g == pytest.approx(TABLE * 0.7, rel=0.02)


def test_the_course_follows_a_step_that_lies_half_way(stepped):
    day = [one.factor_mg_dl_per_g for one in stepped if one.band == "daytime"]
    early, late = np.mean(day[: len(day) // 3]), np.mean(day[-len(day) // 3 :])
    assert late / early == pytest.approx(0.6, abs=0.12)


def test_every_week_with_treatments_is_told_once_a_band_and_in_order(stepped):
    weeks = [one.week for one in stepped if one.band == "daytime"]
    assert weeks == sorted(set(weeks))
    assert len(weeks) == 35  # 239 days
    assert [one.week for one in stepped if one.band == "overnight"] == weeks


def test_no_interval_is_narrower_than_what_treatments_cannot_remove(stepped):
    least = np.exp(2 * 1.645 * 0.1)
    assert min(one.p95_mg_dl_per_g / one.p05_mg_dl_per_g for one in stepped) > least


@pytest.mark.parametrize("missing", ["treatments", "weight"])
def test_without_treatments_or_weight_there_is_no_course(missing):
    found = _findings(np.ones(4))
    if missing == "treatments":
        found = replace(found, pairings=PAIRINGS.empty())
    else:
        found = replace(found, factors=found.factors.with_columns(factor_mg_dl_per_g=pl.lit(None, pl.Float64)))
    assert level_course(_grown_up(), found, shipped_settings()) == ()
