"""How far a person's treatments may choose a candidate."""

import numpy as np
import pytest

from gramrise.estimate.path_settings import shipped
from gramrise.estimate.treatment.candidate_posterior import candidate_scores

SETTINGS = shipped()
BEFORE = np.zeros((2, 1))


def log_odds(treatments_n, against=1.0):
    """Log odds of the first of two candidates, after so many treatments that all speak alike for it."""
    density = np.tile([[0.0], [-against]], treatments_n)
    scores = candidate_scores(density, np.zeros_like(density), SETTINGS)
    weights = scores.weights(np.ones(treatments_n, dtype=bool), np.log([0.5, 0.5]))
    return float(np.log(weights[0] / weights[1]))


def test_twenty_treatments_count_half_as_much_each_as_a_first_one():
    first = log_odds(1) * (1 + 1 / SETTINGS.evidence_half_n)
    assert first == pytest.approx(SETTINGS.evidence_power)
    assert log_odds(20) == pytest.approx(20 * first / 2)


def test_however_many_treatments_agree_the_odds_stay_bounded():
    most = SETTINGS.evidence_power * SETTINGS.evidence_half_n
    assert log_odds(100) < log_odds(5000) < most


def test_one_treatment_speaks_against_a_candidate_only_so_far():
    assert log_odds(1, against=500.0) == log_odds(1, against=SETTINGS.most_against)
