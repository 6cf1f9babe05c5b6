"""The regression on the rise seen: by hand, and where it says nothing."""

import numpy as np
import polars as pl
import pytest

from gramrise.estimate.levels.evidence import Evidence
from gramrise.estimate.levels.seen_rise import rise_without, seen_rise_evidence
from gramrise.estimate.settings import shipped

SETTINGS = shipped()
RULES = SETTINGS.second_opinion.model_copy(
    update={
        "rise_at_70_mg_dl": -1.0,
        "rise_per_mg_dl_of_start": -0.9,
        "rise_with_two_doses_mg_dl": -23.0,
        "rise_with_three_doses_mg_dl": -21.0,
        "highest_start_mg_dl": 95.0,
    }
)
BY_HAND = SETTINGS.model_copy(update={"second_opinion": RULES})
KG, TABLE = 40.0, 8.0
REFERENCE = 0.15 * KG


def told(rise=40.0, start=80.0, doses=1, grams=REFERENCE, exponent=1.0):
    used = pl.DataFrame(
        {
            "grams": [grams],
            "weight_kg": [KG],
            "rise_seen_mg_dl": [rise],
            "start_seen_mg_dl": [start],
            "doses_n": [doses],
            "reasons": [[]],
            "insulin_on_board_units": [None],
        },
        schema_overrides={"reasons": pl.List(pl.String), "grams": pl.Float64, "rise_seen_mg_dl": pl.Float64},
    )
    nought, one = np.zeros(1), np.zeros(1, dtype=np.int64)
    measured = Evidence(nought, nought + 1, nought, one, one, one)
    return seen_rise_evidence(used, np.array([TABLE]), measured, exponent, BY_HAND)


def test_a_rise_of_40_from_80_is_ten_more_than_was_seen():
    """From 80 the level would have come down by 9 and 1 more; 50 mg/dL by 6 g are 8.3 a gram."""
    seen, _ = told()
    assert float(seen.ratio[0]) * TABLE == pytest.approx(50.0 / REFERENCE)


def test_a_second_and_a_third_amount_were_given_because_the_level_fell():
    assert rise_without(np.array([70.0] * 3), np.array([1, 2, 3]), RULES).tolist() == [-1.0, -24.0, -45.0]


def test_twice_the_reference_amount_is_worth_more_a_gram_at_the_reference():
    seen, _ = told(grams=2 * REFERENCE, exponent=0.92)
    assert float(seen.ratio[0]) * TABLE == pytest.approx(50.0 / (2 * REFERENCE) * 2**0.08)


@pytest.mark.parametrize("what", [{"start": 95.1}, {"rise": None}, {"grams": None}])
def test_a_high_start_or_a_missing_number_is_left_out(what):
    seen, used = told(**what)
    assert len(seen) == 0
    assert used.tolist() == [False]


def test_at_the_highest_start_it_still_counts():
    assert told(start=95.0)[1].tolist() == [True]
