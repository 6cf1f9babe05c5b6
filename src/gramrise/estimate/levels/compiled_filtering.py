"""The inner loops of the levels' posterior, compiled: a year of a person's treatments in a few milliseconds."""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from gramrise.estimate.levels.scatter import AXIS, AXIS_STEP

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

# Where a level's distribution is met with a likelihood: evenly spaced, in its standard deviations; the trapezoid rule
# on a smooth function that has died away at both ends is as good as exact.
_Z = np.linspace(-4.8, 4.8, 25)
_AXIS_START = float(AXIS[0])
_AXIS_LAST = len(AXIS) - 1
_STEP = AXIS_STEP
# A node so many log units behind the best is given up: a millionth of the weight, and it does not come back.
_HOPELESS = 14.0


@njit(cache=True)
def filter_tables(
    mean: Floats,
    covariance: Floats,
    log_evidence: Floats,
    week_now: int,
    changes_now: int,
    kept_per_week: Floats,
    change_keeps: float,
    prior: Floats,
    log_weight: Floats,
    event_sd: Floats,
    path_bias: Floats,
    tables: Floats,
    table_of_node: Whole,
    band: Whole,
    week: Whole,
    changes: Whole,
    told: Floats,
) -> None:
    """Learn treatments in order. Changes mean, covariance, log_evidence in place; fills what was foretold.

    A node that is given up has a log evidence of minus infinity, and its levels stay where they were.

    told  [treatments, 6] in the order of `posterior.Foretold`; the other shapes: `posterior.learned`
    """
    for i in range(len(band)):
        if week[i] != week_now or changes[i] != changes_now:
            for node in range(len(log_weight)):
                if log_evidence[node] == -np.inf:
                    continue
                keeps = kept_per_week[node] ** (week[i] - week_now) * change_keeps ** (changes[i] - changes_now)
                mean[node] *= keeps
                covariance[node] = keeps**2 * covariance[node] + (1.0 - keeps**2) * prior[node]
            week_now, changes_now = week[i], changes[i]
        fill_prior_predictive(mean, covariance, log_evidence + log_weight, event_sd, path_bias, band[i], told[i])
        least = np.max(log_evidence + log_weight) - _HOPELESS
        for node in range(len(log_weight)):
            if log_evidence[node] + log_weight[node] < least:
                log_evidence[node] = -np.inf
                continue
            at, variance = mean[node, band[i]], covariance[node, band[i], band[i]]
            log_whole, new_mean, new_variance = tilted_moments(at, variance, tables[i, table_of_node[node]])
            log_evidence[node] += log_whole
            condition_bands(mean[node], covariance[node], band[i], new_mean, new_variance)


@njit(cache=True)
def filter_normal(
    mean: Floats, covariance: Floats, log_evidence: Floats, band: int, value: float, noise_variance: float
) -> None:
    """Learn one measurement with normal noise. Changes mean, covariance, log_evidence."""
    for node in range(len(log_evidence)):
        at, variance = mean[node, band], covariance[node, band, band]
        whole = variance + noise_variance
        log_evidence[node] -= 0.5 * (np.log(2.0 * np.pi * whole) + (value - at) ** 2 / whole)
        gain = variance / whole
        condition_bands(mean[node], covariance[node], band, at + gain * (value - at), variance * (1.0 - gain))


@njit(cache=True)
def fill_prior_predictive(
    mean: Floats,
    covariance: Floats,
    log_weights: Floats,
    event_sd: Floats,
    path_bias: Floats,
    band: int,
    told: Floats,
) -> None:
    """Fill one row: level, its sd, scatter, path bias, its sd, covariance of level and bias; all nodes mixed."""
    weights = np.exp(log_weights - log_weights.max())
    weights /= weights.sum()
    level, square, scatter, bias, bias_square, product = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for node in range(len(weights)):
        level += weights[node] * mean[node, band]
        square += weights[node] * (covariance[node, band, band] + mean[node, band] ** 2)
        scatter += weights[node] * event_sd[node]
        bias += weights[node] * path_bias[node]
        bias_square += weights[node] * path_bias[node] ** 2
        product += weights[node] * path_bias[node] * mean[node, band]
    told[0], told[1], told[2] = level, np.sqrt(max(square - level**2, 0.0)), scatter
    told[3], told[4], told[5] = bias, np.sqrt(max(bias_square - bias**2, 0.0)), product - level * bias


@njit(cache=True)
def tilted_moments(mean: float, variance: float, log_likelihood: Floats) -> tuple[float, float, float]:
    """A normal distribution times a likelihood on AXIS: log of the integral, mean and variance of the product.

    Between the axis' points the log likelihood is a parabola through three of them.
    """
    sd = np.sqrt(variance)
    height = np.empty(len(_Z))
    best = -np.inf
    for k in range(len(_Z)):
        place = (mean + sd * _Z[k] - _AXIS_START) / _STEP
        nearest = min(max(int(np.rint(place)), 1), _AXIS_LAST - 1)
        off = min(max(place - nearest, -1.0), 1.0)
        before, here, after = log_likelihood[nearest - 1], log_likelihood[nearest], log_likelihood[nearest + 1]
        height[k] = here + off * (0.5 * (after - before) + off * (0.5 * (after + before) - here)) - 0.5 * _Z[k] ** 2
        best = max(best, height[k])
    whole, first, second = 0.0, 0.0, 0.0
    for k in range(len(_Z)):
        product = np.exp(height[k] - best)
        whole += product
        first += product * _Z[k]
        second += product * _Z[k] ** 2
    first, second = first / whole, second / whole
    log_whole = np.log(whole * (_Z[1] - _Z[0]) / np.sqrt(2.0 * np.pi)) + best
    return log_whole, mean + sd * first, variance * (second - first**2)


@njit(cache=True)
def condition_bands(mean: Floats, covariance: Floats, band: int, new_mean: float, new_variance: float) -> None:
    """Give one band a new mean and variance, and all bands what follows from their covariance with it. In place."""
    variance = covariance[band, band]
    gain = covariance[:, band] / variance
    mean += (new_mean - mean[band]) * gain
    for row in range(len(gain)):
        for column in range(len(gain)):
            covariance[row, column] += (new_variance - variance) * gain[row] * gain[column]
