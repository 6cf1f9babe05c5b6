"""The Kalman filter and smoother of `gramrise.estimate` in vectorised numpy: the compiled ones are held against them.

The variance recursion does not look at the values, so series with the same steps and the same readings missing share
it (a "pattern"), and all candidates run side by side. Letters in shapes:

    K candidates   G patterns   B series   T points in time   n states   P columns (column 0: the readings)

Source: Durbin & Koopman, Time Series Analysis by State Space Methods, 2012, sections 4.3-4.5.
"""

from dataclasses import dataclass

import numpy as np

from gramrise.estimate.array_types import Array, Flags, Whole
from gramrise.estimate.path.kalman import StateSpace


@dataclass(frozen=True, slots=True)
class Patterns:
    """Which steps and which readings each series has; series that agree share one pattern."""

    steps: Whole  # [G, T] units of time since the point before; 0 at the first point
    present: Flags  # [G, T] a reading stands here
    extra_variance: Array  # [G, T] noise of a reading beyond the sensor's, (mg/dL)^2
    of_series: Whole  # [B] index of the pattern

    @classmethod
    def shared(cls, steps: Whole, present: Flags, extra_variance: Array | None = None) -> "Patterns":
        """The distinct patterns among series; inputs are [B, T]."""
        extra = np.zeros(steps.shape) if extra_variance is None else extra_variance
        key = np.ascontiguousarray(np.concatenate([steps, present, extra], axis=1, dtype=np.float64))
        rows = key.view(np.dtype((np.void, key.dtype.itemsize * key.shape[1]))).ravel()
        _, first, of_series = np.unique(rows, return_index=True, return_inverse=True)
        return cls(steps[first], present[first], extra[first], of_series.reshape(-1))


@dataclass(frozen=True, slots=True)
class Gains:
    """What the variance recursion gives: per point the Kalman gain and the variance of the innovation."""

    gain: Array  # [T, n, K, G]; 0 where no reading stands
    variance: Array  # [T, K, G]; 1 where no reading stands
    predicted_covariance: Array  # [T, n, n, K, G]
    log_variances: Array  # [K, G] sum of log variance over the readings


def gains(space: StateSpace, patterns: Patterns) -> Gains:
    """Run the variance recursion for every candidate and pattern."""
    n, (groups, times) = space.states_n, patterns.steps.shape
    candidates = space.reading_variance.size
    cov = np.broadcast_to(space.start_covariance.transpose(1, 2, 0)[..., None], (n, n, candidates, groups)).copy()
    out = Gains(
        np.zeros((times, n, candidates, groups)),
        np.ones((times, candidates, groups)),
        np.empty((times, n, n, candidates, groups)),
        np.zeros((candidates, groups)),
    )
    for t in range(times):
        if t:
            cov = _moved_covariance(space, patterns.steps[:, t], cov)
        out.predicted_covariance[t] = cov
        here = patterns.present[:, t]
        if not here.any():
            continue
        with_level = np.einsum("i,ijkg->jkg", space.seen, cov)
        variance = np.einsum("j,jkg->kg", space.seen, with_level)
        variance = variance + space.reading_variance[:, None] + patterns.extra_variance[None, :, t]
        gain = np.where(here, with_level / variance, 0.0)
        cov = cov - gain[:, None] * with_level[None, :]
        out.gain[t] = gain
        out.variance[t] = np.where(here, variance, 1.0)
        out.log_variances[:] += np.log(out.variance[t])
    return out


def _moved_covariance(space: StateSpace, steps: Whole, cov: Array) -> Array:
    """Phi cov Phi' + Q for the steps of each pattern; sums run only over entries of Phi that are not all zero."""
    same = steps.min() == steps.max()
    # [n, n, K, G], or one column for all patterns where they step alike
    phi = space.transition[:, steps[:1] if same else steps].transpose(2, 3, 0, 1)
    noise = space.noise[:, steps[:1] if same else steps].transpose(2, 3, 0, 1)
    n = space.states_n
    live = [[bool(phi[i, j].any()) for j in range(n)] for i in range(n)]
    half = np.empty_like(cov)
    for i in range(n):
        terms = [phi[i, j][None] * cov[j] for j in range(n) if live[i][j]]
        half[i] = sum(terms[1:], terms[0])
    moved = np.empty_like(cov)
    for i in range(n):
        for j in range(i, n):
            total = noise[i, j] + phi[j, j] * half[i, j]
            for k in range(n):
                if k != j and live[j][k]:
                    total = total + half[i, k] * phi[j, k]
            moved[i, j] = moved[j, i] = total
    return moved


def innovations(space: StateSpace, patterns: Patterns, run: Gains, columns: Array, means: Array | None = None) -> Array:
    """Standardised innovations of the readings and of each regression column, through the same gains.

    columns  [P, T, K or 1, B]; column 0 the readings (any number where none stands), the others regressors
    means    [T, n, P, K, B], filled in place with the predicted states when given
    returns  [P, T, K, B], divided by their standard deviation, 0 where no reading stands
    """
    n, of = space.states_n, patterns.of_series
    columns_n, times, _, series = columns.shape
    candidates = space.reading_variance.size
    state = np.zeros((n, columns_n, candidates, series))
    state[:, 0] = space.start_mean.T[:, :, None]
    out = np.zeros((columns_n, times, candidates, series))
    steps = patterns.steps[of]
    for t in range(times):
        if t:
            state = _moved_mean(space, steps[:, t], state)
        if means is not None:
            means[t] = state
        here = patterns.present[of, t]
        if not here.any():
            continue
        missed = np.where(here, columns[:, t] - np.tensordot(space.seen, state, 1), 0.0)
        state = state + run.gain[t][:, :, of][:, None] * missed
        out[:, t] = missed / np.sqrt(run.variance[t][:, of])
    return out


def _moved_mean(space: StateSpace, steps: Whole, state: Array) -> Array:
    same = steps.min() == steps.max()
    phi = space.transition[:, steps[:1] if same else steps].transpose(2, 3, 0, 1)
    moved = np.empty_like(state)
    for i in range(space.states_n):
        terms = [phi[i, j] * state[j] for j in range(space.states_n) if phi[i, j].any()]
        moved[i] = sum(terms[1:], terms[0])
    return moved


@dataclass(frozen=True, slots=True)
class Smoothed:
    """States given all readings of their series."""

    mean: Array  # [T, n, P, K, B]
    covariance: Array  # [T, n, n, K, G]


def smoothed(space: StateSpace, patterns: Patterns, columns: Array) -> Smoothed:
    """Fixed-interval smoother by the backward recursion of Durbin & Koopman (2012), 4.4; shapes as `innovations`."""
    run = gains(space, patterns)
    n, of, (columns_n, times, _, series) = space.states_n, patterns.of_series, columns.shape
    candidates, groups = space.reading_variance.size, patterns.steps.shape[0]
    means = np.empty((times, n, columns_n, candidates, series))
    standard = innovations(space, patterns, run, columns, means)
    covariance = np.empty_like(run.predicted_covariance)
    weight = np.zeros((n, columns_n, candidates, series))  # r of the book
    spread = np.zeros((n, n, candidates, groups))  # N of the book
    seen = space.seen
    for t in range(times - 1, -1, -1):
        predicted = run.predicted_covariance[t]
        gain = run.gain[t]
        here = patterns.present[:, t]
        update = np.eye(n)[:, :, None, None] - gain[:, None] * seen[None, :, None, None]
        scaled = standard[:, t] / np.sqrt(run.variance[t][:, of])
        weight = np.einsum("ijkb,ipkb->jpkb", update[..., of], weight) + seen[:, None, None, None] * scaled[None]
        inner = np.einsum("ijkg,ilkg,lmkg->jmkg", update, spread, update)
        spread = inner + np.where(here, 1.0 / run.variance[t], 0.0) * np.multiply.outer(seen, seen)[..., None, None]
        means[t] += np.einsum("ijkb,jpkb->ipkb", predicted[..., of], weight)
        covariance[t] = predicted - np.einsum("ijkg,jlkg,lmkg->imkg", predicted, spread, predicted)
        if t:
            phi = space.transition[:, patterns.steps[:, t]].transpose(2, 3, 0, 1)
            weight = np.einsum("ijkb,ipkb->jpkb", phi[..., of], weight)
            spread = np.einsum("ijkg,ilkg,lmkg->jmkg", phi, spread, phi)
    return Smoothed(means, covariance)
