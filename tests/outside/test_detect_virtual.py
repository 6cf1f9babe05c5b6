"""On made-up persons with known truth: dips found, true lows left alone, probabilities that come true.

The benchmark (tests/benchmark/detect_outcomes.py) measures the same on more persons, shapes and sensors. The dips are
those of Facchinetti A et al. Diabetes Technol Ther 2016;18:264: 45 min (30-70), 24 mg/dL (10-48), mostly at night.
"""

import numpy as np
import pytest
from detect_truth import DIP, LOGGED, MIXED, NONE, UNLOGGED, judged_lows
from virtual.cohort import CohortSpec, cohort

pytestmark = [pytest.mark.outside, pytest.mark.slow]


@pytest.fixture(scope="module")
def lows():
    spec = CohortSpec(seed=5, persons=12, days=90, step_minutes=5, dip_shape="ragged")
    return judged_lows(spec, cohort(spec))


def test_half_of_the_dips_are_called_and_hardly_a_true_low(lows):
    dips = [low.called_dip for low in lows if low.truth == DIP]
    real = [low.called_dip for low in lows if low.truth in {LOGGED, UNLOGGED, NONE}]
    assert len(dips) >= 10
    assert np.mean(dips) >= 0.5
    assert np.mean(real) <= 0.02


def test_logged_glucose_is_never_missed_and_nothing_logged_never_called_treated(lows):
    assert {low.outcome for low in lows if low.truth == LOGGED} == {"treated"}
    unlogged = [low.outcome for low in lows if low.truth == UNLOGGED]
    assert len(unlogged) >= 5
    assert "treated" not in unlogged


def test_stated_probabilities_of_unlogged_glucose_come_true(lows):
    told = [low for low in lows if low.outcome == "nothing_logged" and low.truth != MIXED]
    stated, true = np.mean([(low.probability_treated, low.truth == UNLOGGED) for low in told], axis=0)
    assert stated == pytest.approx(true, abs=0.05)
    likely = [low.truth == UNLOGGED for low in told if low.probability_treated >= 0.4]
    hardly = [low.truth == UNLOGGED for low in told if low.probability_treated < 0.1]
    assert np.mean(hardly) < 0.05
    assert np.mean(likely) > 5 * true
