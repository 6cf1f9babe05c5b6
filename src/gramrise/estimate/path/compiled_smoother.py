"""The smoother of one candidate's paths, compiled.

The compiler's cache does not see a change in `compiled`, whose functions are called here: change this file too.
"""

import numpy as np
from numba import njit

from gramrise.estimate.array_types import Array, Flags, Whole
from gramrise.estimate.path.compiled import predict_covariance, predict_states, update_covariance, update_states


@njit(cache=True)
def _seen_back(seen: Array, gain: Array, size: float, missed: Array, weight: Array, spread: Array) -> None:
    """The backward recursion over one reading, in place: r and N of the book."""
    n, width = weight.shape
    for p in range(width):
        pulled = 0.0
        for m in range(n):
            pulled += gain[m] * weight[m, p]
        for i in range(n):
            weight[i, p] += seen[i] * (missed[p] / size - pulled)
    along = spread @ gain
    inner = gain @ along + 1.0 / size
    for i in range(n):
        for j in range(n):
            spread[i, j] += seen[i] * seen[j] * inner - seen[i] * along[j] - along[i] * seen[j]


@njit(cache=True)
def smoothed_level(
    transition: Array, noise: Array, seen: Array, reading_variance: float, start_mean: Array, start_covariance: Array,
    steps: Whole, present: Flags, extra_variance: Array, columns: Array, level: int,
) -> tuple[Array, Array]:  # fmt: skip
    """One state given all readings, one candidate: means of every column [B, T, P] and variances [B, T].

    Backward recursion of Durbin & Koopman (2012), 4.4, on the predictions of the forward pass.
    """
    series, times, width = columns.shape
    n = seen.size
    means, variances = np.zeros((series, times, width)), np.zeros((series, times))
    back, nothing = np.ascontiguousarray(transition.transpose(0, 2, 1)), np.zeros((n, n))
    states, covs = np.zeros((times, n, width)), np.zeros((times, n, n))
    gains, innovations, sizes = np.zeros((times, n)), np.zeros((times, width)), np.ones(times)
    scratch, moved = np.zeros((n, n)), np.zeros((n, width))
    for b in range(series):
        cov, state = start_covariance.copy(), np.zeros((n, width))
        state[:, 0] = start_mean
        for t in range(times):
            if t > 0 and steps[b, t] > 0:
                predict_covariance(transition[steps[b, t]], noise[steps[b, t]], cov, scratch)
                predict_states(transition[steps[b, t]], state, width, moved)
            states[t], covs[t] = state, cov
            if present[b, t]:
                sizes[t] = update_covariance(seen, reading_variance + extra_variance[b, t], cov, gains[t])
                update_states(seen, gains[t], 1.0, columns[b, t], state, width, innovations[t])
        weight, spread = np.zeros((n, width)), np.zeros((n, n))
        for t in range(times - 1, -1, -1):
            if present[b, t]:
                _seen_back(seen, gains[t], sizes[t], innovations[t], weight, spread)
            row = covs[t, level]
            for p in range(width):
                total = states[t, level, p]
                for m in range(n):
                    total += row[m] * weight[m, p]
                means[b, t, p] = total
            variances[b, t] = row[level] - row @ (spread @ row)
            if t > 0 and steps[b, t] > 0:
                predict_states(back[steps[b, t]], weight, width, moved)
                predict_covariance(back[steps[b, t]], nothing, spread, scratch)
    return means, variances
