"""Weights carried along the growth percentile."""

from datetime import date

import numpy as np
import polars as pl
import pytest
from support.level_people import NOON, person, screened, screened_row

from gramrise.domain.person import Dated
from gramrise.estimate.body_weight import growth_ratio, growth_references, weight_on, weights_on, with_weights

approx = pytest.approx


def test_a_weight_on_the_day_of_weighing_is_the_weight_weighed():
    assert weight_on(person(kg=32.0, weighed=date(2026, 5, 1)), date(2026, 5, 1)) == approx(32.0)


def test_a_childs_weight_grows_along_its_percentile_until_weighed_again():
    # A boy on the median at 10 years and half a month (32.088 kg) stays on it: 15 years and half a month is 56.491 kg.
    boy = person(kg=32.08799062, weighed=date(2026, 1, 16), born=date(2016, 1, 1), sex="boy")
    assert weight_on(boy, date(2031, 1, 16)) == approx(56.49, abs=0.1)


def test_a_weight_between_two_weighings_lies_between_the_two_percentiles():
    weights = Dated(((date(2026, 1, 1), 32.0), (date(2026, 12, 31), 36.0)))
    child = person(sex="girl")
    child = type(child)(child.person_id, child.born, child.zone, sex="girl", weights_kg=weights)
    halfway = weight_on(child, date(2026, 7, 1))
    assert 33.0 < halfway < 35.0


def test_a_weight_stated_today_is_carried_back_over_the_history_that_comes_with_it():
    child = person(kg=32.0, weighed=date(2026, 5, 1))
    assert 29.0 < weight_on(child, date(2025, 9, 1)) < 32.0


def test_grown_ups_keep_the_last_weight():
    adult = person(kg=80.0, weighed=date(2025, 1, 1), born=date(1980, 1, 1))
    assert weight_on(adult, date(2028, 1, 1)) == approx(80.0)


def test_sex_unknown_takes_the_mean_of_both_references():
    on = date(2028, 5, 1)
    boy, girl, unknown = (weight_on(person(sex=sex), on) for sex in ("boy", "girl", ""))
    assert unknown == approx((boy + girl) / 2)
    assert boy != approx(girl, abs=0.1)


def test_never_weighed_means_no_weight():
    assert weight_on(person(kg=None), date(2026, 5, 1)) is None
    assert np.isnan(weights_on(person(kg=None), [date(2026, 5, 1)])).all()
    assert growth_ratio(person(kg=None), date(2026, 1, 1), date(2026, 5, 1)) is None


def test_growth_alone_lowers_a_median_boys_factor_by_about_a_tenth_a_year():
    # From the reference itself: 32.1 to 56.5 kg between 10 and 15 years is 10.7 % a year.
    boy = person(kg=32.08799062, weighed=date(2026, 1, 16), sex="boy")
    five_years = growth_ratio(boy, date(2026, 1, 16), date(2031, 1, 16))
    assert five_years ** (1 / 5) == approx(1 - 0.107, abs=0.002)


def test_each_treatment_gets_the_weight_of_its_own_local_day():
    frame = with_weights(person(), screened(screened_row(first=NOON)))
    assert frame["weight_kg"].to_list() == [approx(weight_on(person(), date(2026, 3, 2)))]
    none = with_weights(person(kg=None), screened(screened_row(first=NOON)))
    assert none["weight_kg"].to_list() == [None]
    assert none.schema["weight_kg"] == pl.Float64


def test_both_references_run_from_birth_to_twenty_years():
    references = growth_references().values()
    assert len(references) == 2
    for reference in references:
        assert (reference.age_months[0], reference.age_months[-1]) == (0.0, 240.0)
        assert np.all(np.diff(reference.age_months) > 0)
