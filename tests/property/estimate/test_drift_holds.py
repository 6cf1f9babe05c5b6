"""What holds for the drift of anybody: probabilities, order of quantiles, growth's part, order of treatments."""

from datetime import UTC, date, datetime, timedelta

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.level_people import pairings, person

from gramrise.domain.drift import ReferencePoint
from gramrise.estimate import drift_of, shipped_settings

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
FIRST = datetime(2026, 3, 1, 18, tzinfo=UTC)
POINTS = [ReferencePoint(band, date(2026, 4, 1)) for band in ("daytime", "overnight")]


def drift(made):
    return drift_of(person(), made, POINTS, NOW, shipped_settings())


@settings(max_examples=8, deadline=None)
@given(st.lists(st.floats(-5.0, 60.0), max_size=40), st.floats(0.2, 8.0))
def test_numbers_are_in_order_and_growth_is_a_part_of_each(factors, sd):
    frame = drift(pairings(factors, start=FIRST, sd=sd))
    assert frame["band"].to_list() == ["daytime", "overnight"]
    assert frame["probability_moved"].is_between(0.0, 1.0).all()
    columns = ("ratio_p05", "ratio_p25", "ratio", "ratio_p75", "ratio_p95")
    assert frame.select(pl.concat_list(columns).list.diff(null_behavior="drop").list.min()).to_series().min() >= 0.0
    assert (frame["ratio"] / frame["growth_ratio"]).to_list() == pytest.approx(frame["beyond_ratio"].to_list())
    assert (frame["pairings_since"] + frame["pairings_before"]).sum() == len(factors)


@settings(max_examples=6, deadline=None)
@given(st.lists(st.floats(2.0, 30.0), min_size=4, max_size=30), st.randoms(use_true_random=False))
def test_the_order_of_a_weeks_treatments_changes_nothing(factors, random):
    week = factors[:4]
    shuffled = random.sample(week, len(week))
    first, second = (
        pairings(one + factors[4:], start=datetime(2026, 4, 2, 18, tzinfo=UTC), every=timedelta(hours=30))
        for one in (week, shuffled)
    )
    assert drift(first)["ratio"].to_list() == pytest.approx(drift(second)["ratio"].to_list(), rel=1e-9)
