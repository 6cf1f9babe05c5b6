"""The levels given everything: what was learned late also tells of earlier weeks."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from support.level_people import evidence

from gramrise.estimate.levels.band_levels import filtering_update, level_model, levels_at, likelihood_tables
from gramrise.estimate.levels.scatter import AXIS
from gramrise.estimate.levels.smoothing import smoothed_history
from gramrise.estimate.settings import shipped

approx = pytest.approx
MODEL = level_model(shipped().levels)


def drawn(seed, count=60, bands=2, weeks=40):
    rng = np.random.default_rng(seed)
    level = 0.35 * rng.normal() + 0.28 * rng.normal(size=bands)
    band = rng.integers(0, bands, count)
    sd = rng.uniform(0.1, 0.7, count)
    ratio = np.exp(level[band] + 0.35 * rng.standard_t(5, count)) + sd * rng.normal(size=count)
    return evidence(ratio, sd=sd, band=band, week=np.sort(rng.integers(0, weeks, count)))


def test_without_treatments_a_history_is_the_table():
    found = smoothed_history(evidence([]), 2, MODEL)
    assert found.mean.shape == (0, 2)
    assert levels_at(found.state, 0, 0, MODEL).mean == approx([0.0, 0.0])


def by_quadrature(seen):
    """Mean and sd of one band's level in one week: prior times likelihoods on a fine axis, every node of the grid."""
    tables = likelihood_tables(seen, MODEL)[:, MODEL.table_of_node]
    fine = np.linspace(-2.5, 2.8, 5301)
    log_likelihood = np.array([CubicSpline(AXIS, node, axis=-1)(fine) for node in tables.sum(axis=0)])
    log_prior = -0.5 * fine**2 / (0.35**2 + 0.28**2) + MODEL.grid.log_weight[:, None]
    density = np.exp(log_likelihood + log_prior - log_likelihood.max()).sum(axis=0)
    density /= density.sum()
    mean = density @ fine
    return mean, np.sqrt(density @ (fine - mean) ** 2)


def test_one_treatment_is_exact_by_numerical_integration():
    seen = evidence([2.2], sd=0.4)
    found = levels_at(smoothed_history(seen, 1, MODEL).state, 0, 0, MODEL)
    mean, sd = by_quadrature(seen)
    assert found.mean[0] == approx(mean, abs=1e-3)
    assert found.sd[0] == approx(sd, abs=1e-3)


@pytest.mark.parametrize("ratios", [(0.63, 2.14), (2.14, 0.63)])
def test_two_treatments_that_contradict_each_other_agree_with_numerical_integration_in_either_order(ratios):
    # 0.63 and 2.14 of the table with noise 0.16: the exact answer lies between them (0.09, sd 0.35, in the log).
    seen = evidence(ratios, sd=0.16)
    found = levels_at(smoothed_history(seen, 1, MODEL).state, 0, 0, MODEL)
    mean, sd = by_quadrature(seen)
    assert mean == approx(0.09, abs=0.02)
    assert found.mean[0] == approx(mean, abs=0.1 * sd)
    assert found.sd[0] == approx(sd, rel=0.1)


@pytest.mark.parametrize("seed", range(4))
def test_going_back_once_more_changes_next_to_nothing(seed):
    more = level_model(shipped().levels.model_copy(update={"ep_sweeps": shipped().levels.ep_sweeps + 2}))
    seen = drawn(seed)
    one, other = (levels_at(smoothed_history(seen, 2, model).state, 40, 0, model) for model in (MODEL, more))
    assert np.abs(one.mean - other.mean) / other.sd == approx(np.zeros(2), abs=0.03)
    assert one.sd == approx(other.sd, rel=0.03)


@pytest.mark.parametrize("seed", range(4))
def test_a_new_night_on_top_of_a_history_agrees_with_learning_everything_again(seed):
    # The stated tolerance: a tenth of the doubt, and of its size, for a week of new treatments.
    seen = drawn(seed)
    before, after = seen.part(slice(0, 55)), seen.part(slice(55, None))
    full = levels_at(smoothed_history(seen, 2, MODEL).state, 40, 0, MODEL)
    state, _ = filtering_update(smoothed_history(before, 2, MODEL).state, after, MODEL)
    night = levels_at(state, 40, 0, MODEL)
    assert np.abs(night.mean - full.mean) / full.sd == approx(np.zeros(2), abs=0.1)
    assert night.sd == approx(full.sd, rel=0.1)


def test_later_treatments_tell_of_earlier_weeks():
    early = smoothed_history(evidence([1.0] * 3, week=0), 1, MODEL)
    with_later = smoothed_history(evidence([1.0] * 3 + [2.0] * 30, week=[0] * 3 + [4] * 30), 1, MODEL)
    assert with_later.week.tolist() == [0, 4]
    assert with_later.mean[0, 0] > early.mean[0, 0] + 0.3
    assert with_later.sd[0, 0] < early.sd[0, 0]


def test_a_change_of_delivery_within_a_week_is_a_period_of_its_own():
    found = smoothed_history(evidence([1.0, 2.0], week=[3, 3], delivery_changes=[0, 1]), 1, MODEL)
    assert found.week.tolist() == [3, 3]
    assert found.delivery_changes.tolist() == [0, 1]


def test_a_slow_walk_is_followed_week_by_week():
    weeks = np.repeat(np.arange(60), 3)
    rising = np.exp(np.linspace(-0.4, 0.4, 180))
    found = smoothed_history(evidence(rising, sd=0.1, week=weeks), 1, MODEL)
    assert np.all(np.diff(found.mean[:, 0]) > -0.02)
    assert found.mean[-1, 0] - found.mean[0, 0] > 0.4
