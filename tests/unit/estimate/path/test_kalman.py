"""The filter against the same Gaussian written out as one big matrix."""

import numpy as np
import pytest
from scipy.stats import multivariate_normal
from support.numpy_kalman import Patterns, gains, innovations, smoothed

from gramrise.estimate.path.candidates import shipped_parameters
from gramrise.estimate.path.dynamics import LEVEL, SEEN, state_space
from gramrise.estimate.path.kalman import regression, smooth_level
from gramrise.estimate.path_settings import shipped

MINUTES = np.array([0, 5, 10, 25, 30, 31, 60])
PATH = shipped_parameters(shipped()).path
SPACE = state_space([PATH], 60)
STEPS = np.diff(MINUTES, prepend=0)[None, :]
PRESENT = np.array([[True, True, False, True, True, True, True]])
NO_EXTRA = np.zeros(STEPS.shape)


def dense(space, steps):
    """Mean of the state over time, and covariance of every state with every other: [T, n], [T, n, T, n]."""
    n, times = space.states_n, steps.size
    mean = [space.start_mean[0]]
    cov = np.zeros((times, n, times, n))
    cov[0, :, 0, :] = space.start_covariance[0]
    for t in range(1, times):
        phi, noise = space.transition[0, steps[t]], space.noise[0, steps[t]]
        mean.append(phi @ mean[-1])
        for s in range(t):
            cov[t, :, s, :] = phi @ cov[t - 1, :, s, :]
            cov[s, :, t, :] = cov[t, :, s, :].T
        cov[t, :, t, :] = phi @ cov[t - 1, :, t - 1, :] @ phi.T + noise
    return np.array(mean), cov


def readings_mean_and_covariance():
    mean, cov = dense(SPACE, STEPS[0])
    keep = PRESENT[0]
    seen_cov = np.einsum("i,tisj,j->ts", SEEN, cov, SEEN) + PATH.reading_sd**2 * np.eye(MINUTES.size)
    return (mean @ SEEN)[keep], seen_cov[np.ix_(keep, keep)]


@pytest.fixture
def values():
    return np.random.default_rng(3).normal(-20, 15, MINUTES.size)


def test_the_density_of_a_window_is_that_of_the_gaussian_written_out(values):
    mean, cov = readings_mean_and_covariance()
    run, _ = regression(SPACE, STEPS, PRESENT, NO_EXTRA, values.reshape(1, 1, -1, 1))
    expected = multivariate_normal(mean, cov).logpdf(values[PRESENT[0]])
    assert run.log_likelihood_without_columns[0, 0] == pytest.approx(expected, rel=1e-9)


def test_the_factor_of_one_treatment_is_generalised_least_squares(values):
    rise = np.sin(MINUTES / 30.0)
    run, _ = regression(SPACE, STEPS, PRESENT, NO_EXTRA, np.stack([values, rise], axis=1)[None, None])
    mean, cov = readings_mean_and_covariance()
    weight = np.linalg.inv(cov)
    x, y = rise[PRESENT[0]], values[PRESENT[0]] - mean
    products = run.products[:, :, 0, 0]
    assert products[1, 1] == pytest.approx(x @ weight @ x, rel=1e-9)
    assert products[0, 1] / products[1, 1] == pytest.approx((x @ weight @ y) / (x @ weight @ x), rel=1e-8)


def test_the_smoothed_path_is_the_conditional_mean_of_the_gaussian_written_out(values):
    mean, cov = dense(SPACE, STEPS[0])
    reading_mean, reading_cov = readings_mean_and_covariance()
    keep = PRESENT[0]
    with_readings = np.einsum("ts,j->ts", cov[:, LEVEL, :, LEVEL], np.ones(1)) + cov[:, LEVEL, :, 3]
    gain = with_readings[:, keep] @ np.linalg.inv(reading_cov)
    expected = mean[:, LEVEL] + gain @ (values[keep] - reading_mean)
    variance = np.diag(cov[:, LEVEL, :, LEVEL]) - np.einsum("ts,ts->t", gain, with_readings[:, keep])
    found, spread = smooth_level(SPACE, STEPS, PRESENT, NO_EXTRA, values.reshape(1, -1, 1), LEVEL)
    assert found[0, :, 0] == pytest.approx(expected, abs=1e-6)
    assert spread[0] == pytest.approx(variance, abs=1e-6)


def test_the_general_smoother_and_the_compiled_one_agree(values):
    both = smoothed(SPACE, Patterns.shared(STEPS, PRESENT), values.reshape(1, -1, 1, 1))
    found, spread = smooth_level(SPACE, STEPS, PRESENT, NO_EXTRA, values.reshape(1, -1, 1), LEVEL)
    assert both.mean[:, LEVEL, 0, 0, 0] == pytest.approx(found[0, :, 0], abs=1e-8)
    assert both.covariance[:, LEVEL, LEVEL, 0, 0] == pytest.approx(spread[0], abs=1e-8)


def test_two_steps_of_five_minutes_are_one_of_ten():
    phi, noise = SPACE.transition[0], SPACE.noise[0]
    assert phi[5] @ phi[5] == pytest.approx(phi[10], abs=1e-12)
    assert phi[5] @ noise[5] @ phi[5].T + noise[5] == pytest.approx(noise[10], abs=1e-10)


def test_windows_with_the_same_steps_and_gaps_share_their_gains(values):
    steps, present = np.tile(STEPS, (3, 1)), np.tile(PRESENT, (3, 1))
    patterns = Patterns.shared(steps, present)
    assert patterns.steps.shape[0] == 1
    columns = np.stack([values, values + 1, values - 2], axis=1).reshape(1, -1, 1, 3)
    standard = innovations(SPACE, patterns, gains(SPACE, patterns), columns)
    run, _ = regression(SPACE, steps, present, np.zeros(steps.shape), columns.transpose(2, 3, 1, 0))
    assert np.einsum("tkb,tkb->b", standard[0], standard[0]) == pytest.approx(run.products[0, 0, 0], rel=1e-9)


def test_a_reading_with_endless_noise_is_the_same_as_none(values):
    extra = np.where(PRESENT, 0.0, 1e12)
    everything, _ = regression(SPACE, STEPS, np.ones_like(PRESENT), extra, values.reshape(1, 1, -1, 1))
    without, _ = regression(SPACE, STEPS, PRESENT, NO_EXTRA, values.reshape(1, 1, -1, 1))
    assert everything.products[0, 0] == pytest.approx(without.products[0, 0], rel=1e-6)
