"""The filter's inner loops, compiled: one pass over every candidate and window, sums of products only."""

import numpy as np
from numba import njit

from gramrise.estimate.filter_types import Array, Flags, Whole


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
    first_row: Whole,
) -> tuple[Array, Array]:
    """Sums of products of standardised innovations, and sums of log variances.

    transition, noise  [K, D, n, n]; reading_variance [K]; start_mean [K, n]; start_covariance [K, n, n]
    steps, present, extra_variance  [B, T]
    columns            [K, B, T, P], column 0 the readings
    first_row          [P] point before which a column is zero in every window: it is not carried until then
    returns            [K, B, P, P], [K, B]
    """
    candidates, series, times, width = columns.shape
    n = seen.size
    products = np.zeros((candidates, series, width, width))
    log_variances = np.zeros((candidates, series))
    for k in range(candidates):
        for b in range(series):
            cov = start_covariance[k].copy()
            state = np.zeros((n, width))
            state[:, 0] = start_mean[k]
            gain, with_level, missed = np.zeros(n), np.zeros(n), np.zeros(width)
            scratch, moved = np.zeros((n, n)), np.zeros(n)
            for t in range(times):
                live = 0  # columns are in the order in which they begin
                while live < width and first_row[live] <= t:
                    live += 1
                step = steps[b, t]
                if t > 0 and step > 0:
                    phi = transition[k, step]
                    for i in range(n):
                        for j in range(n):
                            total = 0.0
                            for m in range(n):
                                if phi[i, m] != 0.0:
                                    total += phi[i, m] * cov[m, j]
                            scratch[i, j] = total
                    for i in range(n):
                        for j in range(i, n):
                            total = noise[k, step, i, j]
                            for m in range(n):
                                if phi[j, m] != 0.0:
                                    total += scratch[i, m] * phi[j, m]
                            cov[i, j] = total
                            cov[j, i] = total
                    for p in range(live):
                        for i in range(n):
                            total = 0.0
                            for m in range(n):
                                if phi[i, m] != 0.0:
                                    total += phi[i, m] * state[m, p]
                            moved[i] = total
                        for i in range(n):
                            state[i, p] = moved[i]
                if not present[b, t]:
                    continue
                variance = reading_variance[k] + extra_variance[b, t]
                for j in range(n):
                    total = 0.0
                    for i in range(n):
                        total += seen[i] * cov[i, j]
                    with_level[j] = total
                    variance += seen[j] * total
                for j in range(n):
                    gain[j] = with_level[j] / variance
                for i in range(n):
                    for j in range(n):
                        cov[i, j] -= gain[i] * with_level[j]
                root = np.sqrt(variance)
                for p in range(live):
                    error = columns[k, b, t, p]
                    for i in range(n):
                        error -= seen[i] * state[i, p]
                    for i in range(n):
                        state[i, p] += gain[i] * error
                    missed[p] = error / root
                log_variances[k, b] += np.log(variance)
                for p in range(live):
                    for q in range(p + 1):
                        products[k, b, p, q] += missed[p] * missed[q]
            for p in range(width):
                for q in range(p):
                    products[k, b, q, p] = products[k, b, p, q]
    return products, log_variances


@njit(cache=True)
def fill_responses(
    columns: Array, first_column: int, shown: Array, scaled: Array, minutes: Whole, dose_minutes: Whole,
    dose_form: Whole, shifts: Whole,
) -> None:  # fmt: skip
    """Write the response per unit of factor into columns [K, B, T, P], one column a shift, from `first_column` on.

    shown   [K, forms, M] by minute; scaled [K, B, N] grams of each dose as they act
    minutes [B, T]; dose_minutes, dose_form [B, N]; shifts [S] minutes by which all doses are moved
    """
    candidates, series, times, _ = columns.shape
    longest = shown.shape[2] - 1
    for k in range(candidates):
        for b in range(series):
            for t in range(times):
                for s in range(shifts.size):
                    total = 0.0
                    for d in range(dose_minutes.shape[1]):
                        since = minutes[b, t] - dose_minutes[b, d] - shifts[s]
                        if since > 0 and scaled[k, b, d] > 0.0:
                            total += scaled[k, b, d] * shown[k, dose_form[b, d], min(since, longest)]
                    columns[k, b, t, first_column + s] = total
