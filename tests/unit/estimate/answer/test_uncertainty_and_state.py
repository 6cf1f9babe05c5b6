"""Lasting doubt, widening reasons, and when a number is called the person's own."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import polars as pl
import pytest
from support.level_people import pairings, person, told

from gramrise.domain.frames import DOSES, LOWS
from gramrise.domain.person import Dated
from gramrise.domain.words import Delivery, State
from gramrise.estimate.answer.state_rules import (
    BandEvidence,
    Lack,
    lacks_of,
    latest_unnoticed_low,
    predictions_hold,
    state_of_band,
    weight_is_young,
    withheld_because,
)
from gramrise.estimate.answer.systematic_uncertainty import (
    insulin_is_logged,
    interval_90,
    systematic_sd_log,
    total_sd_log,
)
from gramrise.estimate.levels.evidence import widening_reasons
from gramrise.estimate.settings import shipped

approx = pytest.approx
SETTINGS = shipped()
DAY = date(2026, 6, 1)


GOOD = told([True] * 26 + [False] * 4)


def state(child=None, used=20, ratio=1.5, predictions=GOOD, day=DAY):
    dates = [day - timedelta(days=3 * i) for i in range(used)]
    return state_of_band(child or person(), day, BandEvidence(dates, ratio, predictions), SETTINGS.state)


def test_doubt_that_lasts_is_never_larger_where_insulin_is_logged():
    logged, not_logged = (systematic_sd_log(known, SETTINGS.doubt) for known in (True, False))
    assert 0 < logged <= not_logged


def test_a_household_that_trusts_its_insulin_log_is_told_so_with_less_doubt():
    told = {"lasting_sd_log_insulin_logged": 0.10, "lasting_sd_log_insulin_not_logged": 0.18}
    own = SETTINGS.doubt.model_copy(update=told)
    assert [systematic_sd_log(known, own) for known in (True, False)] == [0.10, 0.18]


def test_insulin_counts_as_logged_when_it_is_known_for_half_of_the_used_treatments():
    used = pairings([5.0] * 4)
    some = used.with_columns(insulin_on_board_units=pl.Series([0.5, 0.0, None, None]))
    assert not insulin_is_logged(used, SETTINGS.doubt)
    assert insulin_is_logged(some, SETTINGS.doubt)
    assert not insulin_is_logged(used.clear(), SETTINGS.doubt)


def test_the_interval_of_a_hundred_with_a_tenth_of_doubt_is_85_to_118():
    low, high = interval_90(np.array([100.0]), np.array([0.10]))
    assert (low[0], high[0]) == approx((84.8, 117.9), abs=0.1)
    assert total_sd_log(np.array([0.3]), np.array([0.4]))[0] == approx(0.5)


def test_each_reason_that_widens_counts_and_the_others_do_not():
    reasons = pl.Series([["illness_near", "lag_unsure", "many_doses"], ["delivery_changed"], ["insulin_near"], []])
    assert widening_reasons(reasons, pl.Series([False] * 4)).tolist() == [2, 0, 1, 0]


def test_insulin_that_is_logged_pulls_on_the_path_and_does_not_widen_again():
    assert widening_reasons(pl.Series([["insulin_near"]]), pl.Series([True])).tolist() == [0]


def test_enough_recent_pairings_a_narrow_interval_and_kept_predictions_make_a_number_ones_own():
    assert state() is State.OWN


def test_seven_pairings_are_too_few():
    assert state(used=7) is State.THIN


def test_pairings_older_than_120_days_do_not_count():
    assert state(used=20, day=DAY) is State.OWN
    old = [DAY - timedelta(days=121 + i) for i in range(20)]
    assert state_of_band(person(), DAY, BandEvidence(old, 1.5, GOOD), SETTINGS.state) is State.THIN


AT = datetime(2026, 6, 1, 12, tzinfo=UTC)


def lows_of(days_ago=3, level=2, outcome="nothing_logged", treated=0.1):
    told = {
        "person_id": "p",
        "start_utc": AT - timedelta(days=days_ago),
        "level": level,
        "outcome": outcome,
        "probability_treated": treated,
    }
    return _whole(LOWS, told)


def doses_of(days_ago=5, noticed="child"):
    return _whole(DOSES, {"person_id": "p", "taken_at_utc": AT - timedelta(days=days_ago), "noticed": noticed})


def _whole(contract, told):
    return pl.DataFrame({name: pl.Series([told.get(name)], dtype=dtype) for name, dtype in contract.schema.items()})


def test_a_deep_low_that_nobody_noticed_lately_keeps_a_number_from_being_ones_own():
    dates = [DAY - timedelta(days=3 * i) for i in range(20)]
    unnoticed = BandEvidence(dates, 1.5, GOOD, unnoticed_low=True)
    assert lacks_of(person(), DAY, unnoticed, SETTINGS.state) == (Lack("unnoticed_low"),)
    assert state_of_band(person(), DAY, unnoticed, SETTINGS.state) is State.THIN


@pytest.mark.parametrize(
    ("lows", "doses", "found"),
    [
        (lows_of(), doses_of(), True),
        (lows_of(outcome="eased"), doses_of(), True),
        (lows_of(), doses_of(noticed=""), False),  # a log that never says who tells nothing
        (lows_of(), doses_of(days_ago=31), False),
        (lows_of(days_ago=31), doses_of(), False),
        (lows_of(level=1), doses_of(), False),
        (lows_of(outcome="treated"), doses_of(), False),
        (lows_of(outcome="sensor_doubt"), doses_of(), False),
        (lows_of(treated=0.5), doses_of(), False),  # somebody treated it and wrote nothing
        (lows_of(treated=0.49), doses_of(), True),
    ],
)
def test_only_a_log_that_tells_who_noticed_can_tell_that_nobody_did(lows, doses, found):
    at = latest_unnoticed_low(doses, lows, AT, SETTINGS.state)
    assert at == (lows["start_utc"][0] if found else None)


def test_an_interval_of_more_than_1_8_from_low_to_high_is_too_wide():
    assert state(ratio=1.81) is State.THIN


def test_predictions_that_miss_too_often_or_never_miss_do_not_hold():
    assert state(predictions=told([True] * 20 + [False] * 10)) is State.THIN
    assert state(predictions=told([True] * 30)) is State.THIN
    assert state(predictions=told([])) is State.THIN


def test_with_fewer_than_thirty_predictions_never_missing_may_be_luck():
    assert predictions_hold(told([True] * 12), SETTINGS.state)
    assert not predictions_hold(told([True] * 8 + [False] * 4), SETTINGS.state)


def test_a_childs_weight_must_be_younger_than_120_days_a_grown_ups_may_be_old():
    child = person(weighed=DAY - timedelta(days=120))
    assert state(child) is State.THIN
    assert weight_is_young(person(weighed=DAY - timedelta(days=119)), DAY, SETTINGS.state)
    assert state(person(kg=80, weighed=date(2020, 1, 1), born=date(1990, 1, 1))) is State.OWN
    assert not weight_is_young(person(kg=None), DAY, SETTINGS.state)


def test_without_a_weight_nothing_is_given():
    assert state(person(kg=None)) is State.WITHHELD


def test_under_two_years_nothing_is_given():
    assert state(person(kg=11, born=DAY - timedelta(days=600))) is State.WITHHELD


def test_just_after_a_change_of_insulin_delivery_nothing_is_given():
    started = (date(2020, 1, 1), Delivery.INJECTIONS)
    changed = Dated((started, (DAY - timedelta(days=5), Delivery.PUMP)))
    long_ago = Dated((started, (DAY - timedelta(days=50), Delivery.PUMP)))
    assert state(person(delivery=changed)) is State.WITHHELD
    assert state(person(delivery=long_ago)) is State.OWN
    assert state(person(delivery=Dated(((DAY, Delivery.PUMP),)))) is State.OWN  # the first entry is no change


def test_under_six_years_a_weight_must_be_younger_than_60_days():
    small = {"kg": 18, "born": DAY - timedelta(days=5 * 365)}
    assert weight_is_young(person(weighed=DAY - timedelta(days=59), **small), DAY, SETTINGS.state)
    assert not weight_is_young(person(weighed=DAY - timedelta(days=60), **small), DAY, SETTINGS.state)


def test_everything_a_number_lacks_is_named_at_once_and_how_many_treatments():
    old = person(weighed=DAY - timedelta(days=200))
    used = [DAY - timedelta(days=i) for i in range(5)]
    assert lacks_of(old, DAY, BandEvidence(used, 1.9, told([])), SETTINGS.state) == (
        Lack("treatments", 3),
        Lack("interval"),
        Lack("predictions"),
        Lack("weighing"),
    )
    missed = told([True] * 10 + [False] * 10)
    assert lacks_of(person(), DAY, BandEvidence(used * 4, 1.5, missed), SETTINGS.state) == (Lack("foretold_badly"),)
    assert lacks_of(person(), DAY, BandEvidence(used * 4, 1.8, GOOD), SETTINGS.state) == ()


def test_predictions_that_come_true_too_often_are_called_wide_and_not_bad():
    """All of 30 came as expected, and the page said what lacks is predictions that hold."""
    used, every = [DAY - timedelta(days=i) for i in range(20)], told([True] * 30)
    assert lacks_of(person(), DAY, BandEvidence(used, 1.5, every), SETTINGS.state) == (Lack("foretold_wide"),)
    assert lacks_of(person(), DAY, BandEvidence(used, 1.5, told([True] * 29)), SETTINGS.state) == ()


def test_why_no_number_may_be_given_is_named():
    assert withheld_because(person(kg=None), DAY, SETTINGS.state) == ("weight_unknown",)
    assert withheld_because(person(kg=11, born=DAY - timedelta(days=600)), DAY, SETTINGS.state) == ("under_2",)
    changed = Dated(((date(2020, 1, 1), Delivery.INJECTIONS), (DAY - timedelta(days=13), Delivery.PUMP)))
    assert withheld_because(person(delivery=changed), DAY, SETTINGS.state) == ("delivery_changed",)
    assert withheld_because(person(), DAY, SETTINGS.state) == ()
