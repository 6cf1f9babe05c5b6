"""The course of the rise."""

import numpy as np
import pytest
from scipy.linalg import expm

from gramrise.estimate.answer.courses import courses_of
from gramrise.estimate.path.candidates import candidates_of
from gramrise.estimate.path.rise_shape import MINUTES_N, RiseShape, expected_rise, rise_curve
from gramrise.estimate.path_settings import shipped


def stepped(shape):
    """The same chain minute by minute through the matrix exponential."""
    gut, lag, disposal = 1 / shape.gut_min, 1 / shape.lag_min, shape.disposal_per_min
    step = expm(np.array([[-gut, 0, 0, 0], [gut, -gut, 0, 0], [0, gut, -disposal, 0], [0, 0, lag, -lag]]))
    states = [np.array([1.0, 0, 0, 0])]
    for _ in range(MINUTES_N - 1):
        states.append(step @ states[-1])
    table = np.array(states)
    return table[:, 2] / table[:, 3].max(), table[:, 3] / table[:, 3].max()


@pytest.mark.parametrize("shape", [RiseShape(9.5, 0.008, 6.0), RiseShape(14.0, 0.04, 9.0), RiseShape(6.0, 0.008, 6.0)])
def test_the_closed_form_is_the_chain_stepped_minute_by_minute(shape):
    blood, shown = stepped(shape)
    found = rise_curve(shape)
    assert found.blood == pytest.approx(blood, abs=2e-3)
    assert found.shown == pytest.approx(shown, abs=2e-3)


def test_a_quarter_of_an_hour_after_glucose_a_third_to_a_half_of_the_rise_is_there():
    shape = RiseShape(9.5, 0.008, 6.0)
    assert 0.3 < rise_curve(shape).shown[15] < 0.5


def test_what_is_expected_of_a_treatment_peaks_lower_than_any_single_curve():
    expected = expected_rise(np.array(9.5), np.array(0.008), np.array(6.0))
    assert 0.95 < expected.max() < 1.0


def test_the_answers_name_each_form_with_its_doubt():
    candidates = candidates_of(shipped())
    answers = courses_of("mia", candidates, np.full(len(candidates), 1 / len(candidates)))
    assert answers["form"].to_list() == ["gel", "liquid", "tablet"]
    for name in ("minutes_to_half", "share_left_90"):
        assert (answers[f"p05_{name}"] < answers[name]).all()
        assert (answers[name] < answers[f"p95_{name}"]).all()


def test_a_person_whose_rises_fade_fast_is_told_that_less_is_left_after_an_hour_and_a_half():
    candidates = candidates_of(shipped())
    disposal = np.array([each.disposal_per_min for each in candidates])
    fast, slow = (courses_of("mia", candidates, chosen / chosen.sum()) for chosen in (disposal > 0.03, disposal < 0.01))
    assert (fast["share_left_90"] < 0.5).all()
    assert (slow["share_left_90"] > 0.6).all()
    assert (fast["p95_share_left_90"] < slow["share_left_90"]).all()


def test_where_nothing_could_be_measured_there_is_no_course():
    assert courses_of("mia", (), np.ones(0)).height == 0
