"""Drift of made-up persons: steps, growth, what shares its uncertainty, and what says nothing."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import polars as pl
import pytest
from support.level_people import pairings, person

from gramrise.domain.drift import ReferencePoint
from gramrise.domain.frames import PAIRINGS
from gramrise.domain.person import Dated
from gramrise.domain.sources import Form, Source
from gramrise.domain.words import Delivery
from gramrise.estimate import drift_of, shipped_settings, weight_on
from gramrise.estimate.drift.change import changes_on

SIGNED, CHANGED = date(2026, 3, 1), date(2026, 4, 1)
FIRST = datetime(2025, 11, 1, 18, tzinfo=UTC)
NOW = datetime(2026, 7, 1, 12, tzinfo=UTC)
DAY_AND_NIGHT = {"daytime": timedelta(), "overnight": timedelta(hours=13)}
TABLE = 317.5  # mg/dL x kg per g, the starting table families use


def drifting(who, daytime=(1.0, 1.0), overnight=(1.0, 1.0), scatter=0.15, times=1.0, seed=1, first=FIRST):
    """A treatment a day and band from FIRST to NOW; the level, as a share of the table, before and after CHANGED."""
    rng = np.random.default_rng(seed)
    parts = []
    for band, (before, after) in {"daytime": daytime, "overnight": overnight}.items():
        days = [first.date() + timedelta(days=n) for n in range((NOW.date() - first.date()).days)]
        kg = np.array([weight_on(who, day) for day in days])
        level = np.where(np.array(days) < CHANGED, before, after) * np.exp(scatter * rng.normal(size=len(days)))
        made = pairings(
            times * level * TABLE / kg, start=first + DAY_AND_NIGHT[band], every=timedelta(days=1), band=band
        )
        parts.append(
            made.with_columns(weight_kg=pl.Series(kg), factor_sd_mg_dl_per_g=0.1 * times * TABLE / pl.Series(kg))
        )
    return PAIRINGS.check(pl.concat(parts))


def drift(who, made, now=NOW, signed=SIGNED, bands=("daytime", "overnight")):
    frame = drift_of(who, made, [ReferencePoint(band, signed) for band in bands], now, shipped_settings())
    return {row["band"]: row for row in frame.iter_rows(named=True)}


def adult(**more):
    return person(kg=70.0, born=date(1980, 1, 1), weighed=date(2025, 1, 1), **more)


def test_a_clear_step_is_found_with_its_size_and_its_date():
    found = drift(adult(), drifting(adult(), daytime=(1.0, 0.75)))["daytime"]
    assert found["finding"] == "moved"
    assert found["probability_moved"] > 0.95
    assert found["beyond_p05"] < 0.75 < found["beyond_p95"]
    assert found["growth_ratio"] == 1.0
    assert found["shape"] == "step"
    assert found["change_date_p05"] <= found["change_date"] <= found["change_date_p95"]
    assert abs((found["change_date"] - CHANGED).days) <= 10
    assert (found["pairings_before"], found["pairings_since"]) == (121, 121)


def test_a_slow_slope_is_told_as_one_and_has_no_date():
    made = drifting(adult(), scatter=0.05)
    since = (pl.col("first_dose_utc") - datetime(2026, 3, 1, tzinfo=UTC)).dt.total_days().clip(0)
    sloping = made.with_columns(factor_mg_dl_per_g=pl.col("factor_mg_dl_per_g") * (-0.4 * since / 121).exp())
    found = drift(adult(), sloping)["daytime"]
    assert (found["finding"], found["shape"], found["change_date"]) == ("moved", "slope", None)
    assert found["beyond_p05"] < np.exp(-0.4) < found["beyond_p95"]


def test_a_steady_person_is_held():
    found = drift(adult(), drifting(adult()))
    assert {row["finding"] for row in found.values()} == {"held"}
    assert {row["shape"] for row in found.values()} == {"none"}
    assert {row["change_date"] for row in found.values()} == {None}


def test_only_the_band_that_moved_is_told():
    found = drift(adult(), drifting(adult(), overnight=(1.0, 1.35)))
    assert found["overnight"]["finding"] == "moved"
    assert found["daytime"]["probability_moved"] < 0.3


def test_growth_alone_lowers_the_ratio_and_nothing_beyond():
    child = person()
    grown = weight_on(child, SIGNED) / weight_on(child, NOW.date())
    found = drift(child, drifting(child))["daytime"]
    assert found["growth_ratio"] == pytest.approx(grown, rel=1e-12)
    assert grown < 0.98
    assert found["ratio"] == pytest.approx(grown, rel=0.03)
    assert found["ratio"] == pytest.approx(found["growth_ratio"] * found["beyond_ratio"], rel=1e-12)
    assert found["finding"] == "held"


def test_what_all_treatments_share_cancels_in_the_ratio():
    plain = drift(adult(), drifting(adult(), daytime=(1.0, 0.75)))["daytime"]
    louder = drift(adult(), drifting(adult(), daytime=(1.0, 0.75), times=1.2))["daytime"]
    assert louder["beyond_ratio"] == pytest.approx(plain["beyond_ratio"], rel=0.02)
    assert louder["probability_moved"] == pytest.approx(plain["probability_moved"], abs=0.02)


def test_the_factor_that_was_signed_is_never_compared_with_todays_model():
    made = drifting(adult())
    told = [
        drift_of(adult(), made, [ReferencePoint("daytime", SIGNED, factor)], NOW, shipped_settings())
        for factor in (None, 2.0)
    ]
    assert told[0].equals(told[1])


def test_both_bands_that_move_on_one_day_are_believed_sooner_than_one():
    weak = {"scatter": 0.5, "seed": 5}
    one = drift(adult(), drifting(adult(), daytime=(1.0, 0.8), **weak))["daytime"]
    both = drift(adult(), drifting(adult(), daytime=(1.0, 0.8), overnight=(1.0, 0.7), **weak))["daytime"]
    assert both["probability_moved"] > one["probability_moved"]


def test_a_change_of_delivery_is_where_a_jump_is_looked_for():
    weak = drifting(adult(), daytime=(1.0, 0.8), scatter=0.5, seed=5)
    changed = adult(delivery=Dated(((date(2020, 1, 1), Delivery.PUMP), (CHANGED, Delivery.AUTOMATED))))
    assert drift(changed, weak)["daytime"]["probability_moved"] > drift(adult(), weak)["daytime"]["probability_moved"]


def test_a_strength_that_changed_is_a_change_and_a_new_source_is_none():
    tin, bottle = Source("tin", Form.TABLET, grams_per_piece=4.0), Source("bottle", Form.LIQUID, grams_per_ml=0.25)
    weaker = Source("tin", Form.TABLET, grams_per_piece=3.0)
    days = [date(2026, 1, 1), date(2026, 2, 1), date(2026, 3, 1), date(2026, 4, 1)]
    held = Dated(tuple(zip(days, [(tin,), (tin, bottle), (weaker, bottle), (weaker,)], strict=True)))
    delivery = Dated(((date(2020, 1, 1), Delivery.PUMP), (date(2026, 3, 20), Delivery.AUTOMATED)))
    assert changes_on(adult(sources=held, delivery=delivery)) == [date(2026, 3, 1), date(2026, 3, 20)]


def test_without_treatments_since_nothing_is_said_and_the_doubt_grows():
    made = drifting(adult()).filter(pl.col("first_dose_utc") < datetime(2026, 3, 1, tzinfo=UTC))
    sooner, later = (drift(adult(), made, now=NOW + timedelta(days=days))["daytime"] for days in (0, 365))
    assert sooner["finding"] == later["finding"] == "nothing_since"
    assert later["ratio_p95"] - later["ratio_p05"] > sooner["ratio_p95"] - sooner["ratio_p05"]


def test_treatments_after_the_instant_change_nothing():
    made = drifting(adult(), daytime=(1.0, 0.75))
    early = datetime(2026, 3, 20, tzinfo=UTC)
    known = made.filter(pl.col("first_dose_utc") <= early)
    assert drift(adult(), made, now=early) == drift(adult(), known, now=early)


def test_references_of_unknown_bands_and_of_days_to_come_say_nothing():
    assert drift(adult(), drifting(adult()), bands=("noon",)) == {}
    assert drift(adult(), drifting(adult()), signed=date(2027, 1, 1)) == {}


def test_nobody_was_ever_treated():
    found = drift(adult(), PAIRINGS.empty())["daytime"]
    assert (found["finding"], found["pairings_before"], found["beyond_ratio"]) == (
        "nothing_since",
        0,
        pytest.approx(1.0),
    )


def test_bands_with_references_of_different_days_are_told_apart():
    points = [ReferencePoint("daytime", SIGNED), ReferencePoint("overnight", date(2026, 5, 1))]
    frame = drift_of(
        adult(), drifting(adult(), daytime=(1.0, 0.7), overnight=(1.0, 0.7)), points, NOW, shipped_settings()
    )
    assert dict(zip(frame["band"], frame["finding"], strict=True)) == {"daytime": "moved", "overnight": "held"}
