"""The chain of weeks against the sum over every path, and its limits."""

import numpy as np
import pytest
from support.drift_chains import every_path, normal_weeks, shipped_model, small_model

from gramrise.estimate.drift.week_chain import WeekLikelihood, chain_of, joint_with_now, jump_probabilities

HAZARD = np.array([0.0, 0.2, 0.05, 0.4])


@pytest.fixture
def case():
    rng = np.random.default_rng(3)
    model = small_model(rng)
    return model, WeekLikelihood(-1, rng.uniform(0.2, 1.0, (2, 4, 3)), np.array([-2.0, -3.0]))


def test_the_evidence_is_the_sum_over_all_paths(case):
    model, weeks = case
    chain = chain_of(weeks, HAZARD, model)
    sums = [every_path(weeks.likelihood[scatter], HAZARD, model)[0] for scatter in (0, 1)]
    assert chain.log_evidence == pytest.approx(np.log(sums) + weeks.log_scale, abs=1e-12)


def test_the_joint_of_reference_and_now_is_the_sum_over_all_paths_between(case):
    model, weeks = case
    joint = joint_with_now(weeks, chain_of(weeks, HAZARD, model), HAZARD, np.array([0.3, 0.7]), model)
    expected = np.zeros((3, 3))
    for scatter, weight in enumerate((0.3, 0.7)):
        whole, by_path, _ = every_path(weeks.likelihood[scatter], HAZARD, model)
        for path, mass in by_path.items():
            expected[path[1], path[3]] += weight * mass / whole
    assert joint == pytest.approx(expected, abs=1e-12)


def test_the_probability_of_a_jump_into_a_week_is_that_of_all_paths_with_one(case):
    model, weeks = case
    found = jump_probabilities(chain_of(weeks, HAZARD, model), HAZARD, np.array([0.3, 0.7]))
    expected = np.zeros(4)
    for scatter, weight in enumerate((0.3, 0.7)):
        whole, _, jumped = every_path(weeks.likelihood[scatter], HAZARD, model)
        expected += weight * jumped / whole
    assert found == pytest.approx(expected, abs=1e-12)


def test_a_week_without_treatments_says_nothing():
    model = shipped_model()
    hazard = np.full(6, 0.01)
    values = [0.1, np.nan, np.nan, np.nan, np.nan, np.nan]
    chain = chain_of(normal_weeks(values, 0.1, model), hazard, model)
    assert chain.jump_odds[:, 1:] == pytest.approx(1.0)
    assert chain.log_evidence == pytest.approx(
        chain_of(normal_weeks(values[:1], 0.1, model), hazard, model).log_evidence
    )


def test_cells_left_out_of_the_products_change_nothing(monkeypatch):
    model = shipped_model()
    hazard = np.full(20, 0.02)
    weeks = normal_weeks(np.r_[np.full(8, 0.2), np.full(12, -0.1)], 0.2, model, first_week=-5)
    weight = np.full(len(model.scatter_log_weight), 1 / len(model.scatter_log_weight))
    chain = chain_of(weeks, hazard, model)
    cut = joint_with_now(weeks, chain, hazard, weight, model)
    monkeypatch.setattr("gramrise.estimate.drift.week_chain.LEAST_MASS", 0.0)
    assert cut == pytest.approx(joint_with_now(weeks, chain, hazard, weight, model), abs=1e-4)
