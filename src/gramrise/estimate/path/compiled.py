"""The filter's inner loops, compiled: one pass over every candidate and window, sums of products only."""

import numpy as np
from numba import njit

from gramrise.estimate.array_types import Array, Flags, Whole


@njit(cache=True)
def predict_covariance(phi: Array, noise: Array, cov: Array, scratch: Array) -> None:
    """cov becomes phi cov phi' + noise, in place."""
    n = cov.shape[0]
    for i in range(n):
        for j in range(n):
            total = 0.0
            for m in range(n):
                if phi[i, m] != 0.0:
                    total += phi[i, m] * cov[m, j]
            scratch[i, j] = total
    for i in range(n):
        for j in range(i, n):
            total = noise[i, j]
            for m in range(n):
                if phi[j, m] != 0.0:
                    total += scratch[i, m] * phi[j, m]
            cov[i, j] = total
            cov[j, i] = total


@njit(cache=True)
def predict_states(phi: Array, state: Array, live: int, moved: Array) -> None:
    """Each live column of `state` [n, P] becomes phi times it, in place; the innermost loop runs along memory."""
    n = state.shape[0]
    for i in range(n):
        for p in range(live):
            moved[i, p] = 0.0
        for m in range(n):
            if phi[i, m] != 0.0:
                for p in range(live):
                    moved[i, p] += phi[i, m] * state[m, p]
    for i in range(n):
        for p in range(live):
            state[i, p] = moved[i, p]


@njit(cache=True)
def update_covariance(seen: Array, reading_variance: float, cov: Array, gain: Array) -> float:
    """One reading narrows cov in place and fills the gain; returns the variance of its innovation."""
    n = seen.size
    variance = reading_variance
    for j in range(n):
        total = 0.0
        for i in range(n):
            total += seen[i] * cov[i, j]
        gain[j] = total
        variance += seen[j] * total
    for i in range(n):
        for j in range(n):
            cov[i, j] -= gain[i] * gain[j] / variance
    for j in range(n):
        gain[j] /= variance
    return variance


@njit(cache=True)
def update_states(seen: Array, gain: Array, root: float, row: Array, state: Array, live: int, missed: Array) -> None:
    """Standardised innovations of the live columns, which move on by the gain."""
    n = seen.size
    for p in range(live):
        missed[p] = row[p]
    for i in range(n):
        if seen[i] != 0.0:
            for p in range(live):
                missed[p] -= seen[i] * state[i, p]
    for i in range(n):
        for p in range(live):
            state[i, p] += gain[i] * missed[p]
    for p in range(live):
        missed[p] /= root


@njit(cache=True)
def _add_products(missed: Array, live: int, products: Array, met: int) -> None:
    """Sums of products of the live columns; those from `met` on meet the ones before it and themselves only."""
    for p in range(live):
        for q in range(min(p, met)):
            products[p, q] += missed[p] * missed[q]
        products[p, p] += missed[p] * missed[p]


@njit(cache=True)
def _fill_gains(
    transition: Array, noise: Array, seen: Array, noises: Array, steps: Whole, present: Flags, cov: Array,
    scratch: Array, gains: Array, sizes: Array,
) -> None:  # fmt: skip
    """The variance recursion over one window: gains [T, n] and variances of the innovations [T] where a reading stands.

    noises  [T] variance of each reading's own noise; cov changes in place to what is left after the last point
    """
    for t in range(steps.size):
        if t > 0 and steps[t] > 0:
            predict_covariance(transition[steps[t]], noise[steps[t]], cov, scratch)
        if present[t]:
            sizes[t] = update_covariance(seen, noises[t], cov, gains[t])


@njit(cache=True)
def _summed_logs(sizes: Array, present: Flags, before: int) -> tuple[float, float]:
    """Sums of the logs of the variances where a reading stands: before a point, and over all."""
    early, whole = 0.0, 0.0
    for t in range(sizes.size):
        if t == before:
            early = whole
        if present[t]:
            whole += np.log(sizes[t])
    return (whole if before >= sizes.size else early), whole


@njit(cache=True)
def _alike(one: Array, other: Array) -> bool:
    """Whether two small arrays are equal."""
    for i in range(one.shape[0]):
        for j in range(one.shape[1]):
            if one[i, j] != other[i, j]:
                return False
    return True


@njit(cache=True)
def _same_paths(
    transition: Array, noise: Array, reading_variance: Array, start_mean: Array, start_covariance: Array
) -> Flags:
    """[K] whether a candidate moves as the one before it: they differ in shape only, and their gains are the same."""
    same = np.zeros(reading_variance.size, dtype=np.bool_)
    for k in range(1, same.size):
        same[k] = (
            reading_variance[k] == reading_variance[k - 1]
            and _alike(transition[k, 1], transition[k - 1, 1])
            and _alike(noise[k, 1], noise[k - 1, 1])
            and _alike(start_covariance[k], start_covariance[k - 1])
            and _alike(start_mean[k : k + 1], start_mean[k - 1 : k])
        )
    return same


@njit(cache=True)
def _mirror(products: Array) -> None:
    """The upper triangle becomes the lower, in place."""
    for p in range(products.shape[0]):
        for q in range(p):
            products[q, p] = products[p, q]


@njit(cache=True)
def summed_products(
    transition: Array,
    noise: Array,
    seen: Array,
    reading_variance: Array,
    start_mean: Array,
    start_covariance: Array,
    steps: Whole,
    present: Flags,
    extra_variance: Array,
    columns: Array,
    begins: Whole,
    before: Whole,
    early_n: int,
    met: int,
) -> tuple[Array, Array, Array, Array]:
    """Sums of products of standardised innovations, and sums of log variances.

    transition, noise  [K, D, n, n]; reading_variance [K]; start_mean [K, n]; start_covariance [K, n, n]
    steps, present, extra_variance  [B, T]
    columns            [K, B, T, P], column 0 the readings
    begins             [B, P] ascending: point before which a column is zero, it is not carried until then
    before, early_n    [B] the first columns' sums are also given as they stood before this point
    met                columns from this on are met with those before it and with themselves, not with each other
    returns            [K, B, P, P], [K, B]; the same over the readings before: [K, B, early_n, early_n], [K, B]
    """
    candidates, series, times, width = columns.shape
    n = seen.size
    products = np.zeros((candidates, series, width, width))
    log_variances = np.zeros((candidates, series))
    early = np.zeros((candidates, series, early_n, early_n))
    early_log_variances = np.zeros((candidates, series))
    missed, scratch, moved = np.zeros(width), np.zeros((n, n)), np.zeros((n, width))
    gains, sizes, cov = np.zeros((times, n)), np.ones(times), np.zeros((n, n))
    before_b, whole = 0.0, 0.0
    same = _same_paths(transition, noise, reading_variance, start_mean, start_covariance)
    for b in range(series):
        for k in range(candidates):
            if not same[k]:
                cov[:] = start_covariance[k]
                noises = reading_variance[k] + extra_variance[b]
                _fill_gains(transition[k], noise[k], seen, noises, steps[b], present[b], cov, scratch, gains, sizes)
                before_b, whole = _summed_logs(sizes, present[b], before[b])
            early_log_variances[k, b], log_variances[k, b] = before_b, whole
            state = np.zeros((n, width))
            state[:, 0] = start_mean[k]
            live = 0  # columns are in the order in which they begin
            for t in range(times):
                if t == before[b]:
                    early[k, b] = products[k, b, :early_n, :early_n]
                while live < width and begins[b, live] <= t:
                    live += 1
                step = steps[b, t]
                if t > 0 and step > 0:
                    predict_states(transition[k, step], state, live, moved)
                if present[b, t]:
                    update_states(seen, gains[t], np.sqrt(sizes[t]), columns[k, b, t], state, live, missed)
                    _add_products(missed, live, products[k, b], met)
            if before[b] >= times:
                early[k, b] = products[k, b, :early_n, :early_n]
            _mirror(products[k, b])
            _mirror(early[k, b])
    return products, log_variances, early, early_log_variances


@njit(cache=True)
def forecast_level(
    transition: Array, noise: Array, seen: Array, reading_variance: Array, start_mean: Array, start_covariance: Array,
    steps: Whole, present: Flags, columns: Array, points: Whole, ahead: Whole, level: int,
) -> tuple[Array, Array]:  # fmt: skip
    """One state foretold beyond the last point of each window, from the readings up to there.

    transition, noise  [K, D, n, n]; reading_variance [K]; start_mean [K, n]; start_covariance [K, n, n]
    steps, present     [B, T]; columns [K, B, T, P]; points [B] how many of the T are looked at
    ahead              [B, A] minutes beyond the last of them, ascending
    returns            means of every column [K, B, A, P] and variances [K, B, A]
    """
    candidates, series, _, width = columns.shape
    n, asked, longest = seen.size, ahead.shape[1], transition.shape[1] - 1
    means, variances = np.zeros((candidates, series, asked, width)), np.zeros((candidates, series, asked))
    missed, scratch, moved = np.zeros(width), np.zeros((n, n)), np.zeros((n, width))
    gains, sizes, cov = np.zeros((steps.shape[1], n)), np.ones(steps.shape[1]), np.zeros((n, n))
    same = _same_paths(transition, noise, reading_variance, start_mean, start_covariance)
    for b in range(series):
        for k in range(candidates):
            if not same[k]:
                cov[:] = start_covariance[k]
                noises, to = np.full(points[b], reading_variance[k]), points[b]
                told, there = steps[b, :to], present[b, :to]
                _fill_gains(transition[k], noise[k], seen, noises, told, there, cov, scratch, gains, sizes)
            if same[k] and _alike(columns[k, b, : points[b]], columns[k - 1, b, : points[b]]):
                means[k, b], variances[k, b] = means[k - 1, b], variances[k - 1, b]
                continue
            state = np.zeros((n, width))
            state[:, 0] = start_mean[k]
            for t in range(points[b]):
                if t > 0 and steps[b, t] > 0:
                    predict_states(transition[k, steps[b, t]], state, width, moved)
                if present[b, t]:
                    update_states(seen, gains[t], 1.0, columns[k, b, t], state, width, missed)
            behind = 0
            for a in range(asked):
                while behind < ahead[b, a]:
                    step = min(ahead[b, a] - behind, longest)
                    if not same[k]:
                        predict_covariance(transition[k, step], noise[k, step], cov, scratch)
                    predict_states(transition[k, step], state, width, moved)
                    behind += step
                for p in range(width):
                    means[k, b, a, p] = state[level, p]
                variances[k, b, a] = variances[k - 1, b, a] if same[k] else cov[level, level]
    return means, variances
