"""Every compiled loop of the room, in one module.

The compiler keeps its results on disk and looks at this file alone to see whether they still hold. So a compiled
function here calls nothing, and reads no constant, of another module. What each loop wins over a vectorised numpy form
is printed by `tests/benchmark/compiled_loops.py`; a loop stays here only where it wins more than three times.
"""

import numpy as np
from numba import njit

from gramrise.estimate.array_types import Array, Flags, Whole

# ---- The Kalman filter: prediction and update of one state, sums of products, a forecast.


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
    """One reading updates cov in place and fills the gain; returns the variance of its innovation."""
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
    """Standardised innovations of the live columns, whose states move on by the gain."""
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
    """Add products of the live columns; those from `met` on meet only the columns before it and themselves."""
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
    """Copy the lower triangle into the upper one, in place."""
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
    met                columns from this on meet those before it and themselves, not each other
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
    """Forecast one state beyond the last point of each window, from the readings up to there.

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
                moves, there = steps[b, :to], present[b, :to]
                _fill_gains(transition[k], noise[k], seen, noises, moves, there, cov, scratch, gains, sizes)
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


# ---- The smoother of one candidate's paths.


@njit(cache=True)
def _seen_back(seen: Array, gain: Array, size: float, missed: Array, weight: Array, spread: Array) -> None:
    """The backward recursion over one reading, in place: r (weight) and N (spread) of Durbin & Koopman."""
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


# ---- The rise of each dose at each point of a window.


@njit(cache=True)
def fill_responses(
    columns: Array, first_column: int, shown: Array, scaled: Array, minutes: Whole, dose_minutes: Whole,
    dose_form: Whole, shifts: Whole,
) -> None:  # fmt: skip
    """Write the response per unit of factor into columns [K, B, T, P], one column a shift, from `first_column` on.

    shown   [K, forms, M] by minute; scaled [K, B, N] grams of each dose as they act
    minutes [B, T]; dose_minutes, dose_form [B, N]; shifts [S] ascending, minutes by which all doses are moved
    """
    candidates, series, times, _ = columns.shape
    longest = shown.shape[2] - 1
    for k in range(candidates):
        for b in range(series):
            for t in range(times):
                row = columns[k, b, t]
                row[first_column : first_column + shifts.size] = 0.0
                for d in range(dose_minutes.shape[1]):
                    grams, form = scaled[k, b, d], dose_form[b, d]
                    if grams <= 0.0:
                        continue
                    since = minutes[b, t] - dose_minutes[b, d]
                    for s in range(shifts.size):
                        if since <= shifts[s]:
                            break
                        row[first_column + s] += grams * shown[k, form, min(since - shifts[s], longest)]


@njit(cache=True)
def driven_level(rate: Array, trace: float, determinant: float, gain: float) -> Array:
    """The level after an input on the slope, [B, M]: level' = trace x level - determinant x level before + gain x rate.

    rate  [B, M] a minute's input
    """
    out = np.zeros(rate.shape)
    for b in range(rate.shape[0]):
        before, now = 0.0, 0.0
        for m in range(1, rate.shape[1]):
            before, now = now, trace * now - determinant * before + gain * rate[b, m - 1]
            out[b, m] = now
    return out


# ---- Filtering of the levels, treatment by treatment.


# Points at which a level's normal distribution is multiplied with a likelihood, in standard deviations. The trapezoid
# rule on a smooth function that has died away at both ends is as good as exact.
_Z = np.linspace(-4.8, 4.8, 25)
# A node so many log units behind the best is dropped for good: it has a millionth of the weight.
_DROPPED_BEHIND = 14.0


@njit(cache=True)
def filter_tables(
    mean: Array,
    covariance: Array,
    log_evidence: Array,
    week_now: int,
    changes_now: int,
    kept_per_week: Array,
    change_keeps: float,
    prior: Array,
    log_weight: Array,
    event_sd: Array,
    path_bias: Array,
    axis: Array,
    tables: Array,
    table_of_node: Whole,
    band: Whole,
    week: Whole,
    changes: Whole,
    predictive: Array,
) -> None:
    """Filter treatments in order: mean, covariance and log_evidence change in place, predictive is filled.

    A dropped node has a log evidence of minus infinity, and its levels stay where they were.

    axis        [AXIS] evenly spaced levels, for which the tables hold log likelihoods
    predictive  [treatments, 6] in the order of `filtering.PriorPredictive`; the other shapes: `filtering.filtered`
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
        fill_prior_predictive(mean, covariance, log_evidence + log_weight, event_sd, path_bias, band[i], predictive[i])
        least = np.max(log_evidence + log_weight) - _DROPPED_BEHIND
        for node in range(len(log_weight)):
            if log_evidence[node] + log_weight[node] < least:
                log_evidence[node] = -np.inf
                continue
            at, variance = mean[node, band[i]], covariance[node, band[i], band[i]]
            log_whole, new_mean, new_variance = tilted_moments(at, variance, tables[i, table_of_node[node]], axis)
            log_evidence[node] += log_whole
            condition_bands(mean[node], covariance[node], band[i], new_mean, new_variance)


@njit(cache=True)
def fill_prior_predictive(
    mean: Array,
    covariance: Array,
    log_weights: Array,
    event_sd: Array,
    path_bias: Array,
    band: int,
    row: Array,
) -> None:
    """Fill one row, mixed over the nodes: level, its sd, scatter, path bias, its sd, covariance of level and bias."""
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
    row[0], row[1], row[2] = level, np.sqrt(max(square - level**2, 0.0)), scatter
    row[3], row[4], row[5] = bias, np.sqrt(max(bias_square - bias**2, 0.0)), product - level * bias


@njit(cache=True)
def tilted_moments(mean: float, variance: float, log_likelihood: Array, axis: Array) -> tuple[float, float, float]:
    """The moments of the tilted distribution, a normal one times a likelihood: log of its integral, mean, variance.

    log_likelihood, axis  [AXIS]; between its points the log likelihood is a parabola through three of them
    """
    sd, start, step, last = np.sqrt(variance), axis[0], axis[1] - axis[0], len(axis) - 1
    height = np.empty(len(_Z))
    best = -np.inf
    for k in range(len(_Z)):
        place = (mean + sd * _Z[k] - start) / step
        nearest = min(max(int(np.rint(place)), 1), last - 1)
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
def condition_bands(mean: Array, covariance: Array, band: int, new_mean: float, new_variance: float) -> None:
    """Give one band a new mean and variance, and move all bands by their covariance with it. In place."""
    variance = covariance[band, band]
    gain = covariance[:, band] / variance
    mean += (new_mean - mean[band]) * gain
    for row in range(len(gain)):
        for column in range(len(gain)):
            covariance[row, column] += (new_variance - variance) * gain[row] * gain[column]


# ---- Expectation propagation over a whole history of levels.


# Damping: a site moves this part of the way to its new value, so that neighbours moved at once do not overshoot.
_DAMPING = 0.8
# A site may have a negative precision (heavy tails make one), but 1 + precision x variance never falls below this.
_LEAST_GROWN = 0.05
# A site is left as it is where its cavity would have less than this part of the whole precision.
_LEAST_CAVITY = 1e-3


@njit(cache=True)
def ep_node(
    prior: Array,
    kept: Array,
    axis: Array,
    tables: Array,
    band: Whole,
    period: Whole,
    sweeps: int,
    means: Array,
    covariances: Array,
) -> float:
    """Expectation propagation for one node of the hyperparameter grid: returns its log evidence, fills the levels.

    Filtering matches a treatment with what was known before it; each sweep matches it with what all others say
    (Minka 2001), on a chain of periods with a forward filter and a backward smoother (Rauch, Tung & Striebel 1965).

    prior        [bands, bands]      covariance of the levels before any treatment; their mean is 0
    kept         [periods]           correlation of a level with itself in the period before
    axis         [AXIS]              evenly spaced levels, for which the tables hold log likelihoods
    tables       [treatments, AXIS]  log likelihood of the band's level
    band, period [treatments]        event order
    means        [periods, bands]    filled: given all treatments
    covariances  [periods, bands, bands]  filled: given all treatments
    """
    periods_n, bands_n = means.shape
    sites = np.zeros((3, len(band)))  # precision, precision x mean, log of the normaliser
    ahead_means, ahead_covariances = np.zeros((periods_n, bands_n)), np.zeros((periods_n, bands_n, bands_n))
    log_evidence = _forward(
        prior, kept, axis, tables, band, period, sites, True, means, covariances, ahead_means, ahead_covariances
    )
    for _ in range(sweeps):
        _backward(kept, means, covariances, ahead_means, ahead_covariances)
        _update_sites(axis, tables, band, period, sites, means, covariances)
        log_evidence = _forward(
            prior, kept, axis, tables, band, period, sites, False, means, covariances, ahead_means, ahead_covariances
        )
    _backward(kept, means, covariances, ahead_means, ahead_covariances)
    return log_evidence


@njit(cache=True)
def _forward(
    prior: Array,
    kept: Array,
    axis: Array,
    tables: Array,
    band: Whole,
    period: Whole,
    sites: Array,
    first: bool,
    means: Array,
    covariances: Array,
    ahead_means: Array,
    ahead_covariances: Array,
) -> float:
    """Filter with the sites; the first pass finds them on the way. Returns the log evidence."""
    log_evidence = 0.0
    i = 0
    for p in range(len(kept)):
        if p == 0:
            means[0], covariances[0] = 0.0, prior
        else:
            means[p] = kept[p] * means[p - 1]
            covariances[p] = kept[p] ** 2 * covariances[p - 1] + (1.0 - kept[p] ** 2) * prior
        ahead_means[p], ahead_covariances[p] = means[p], covariances[p]
        while i < len(band) and period[i] == p:
            b = band[i]
            mean, variance = means[p, b], covariances[p, b, b]
            if first:
                log_whole, new_mean, new_variance = tilted_moments(mean, variance, tables[i], axis)
                _set_site(sites, i, mean, variance, log_whole, new_mean, new_variance, 1.0)
            grown = max(1.0 + sites[0, i] * variance, _LEAST_GROWN)
            new_mean = (mean + sites[1, i] * variance) / grown
            log_evidence += sites[2, i] + _log_normaliser(mean, variance, sites[0, i], sites[1, i])
            condition_bands(means[p], covariances[p], b, new_mean, variance / grown)
            i += 1
    return log_evidence


@njit(cache=True)
def _backward(kept: Array, means: Array, covariances: Array, ahead_means: Array, ahead_covariances: Array) -> None:
    """Smooth in place: filtered levels become levels given all treatments."""
    bands_n = means.shape[1]
    gain, moved = np.empty((bands_n, bands_n)), np.empty((bands_n, bands_n))
    for p in range(len(kept) - 2, -1, -1):
        _gain(kept[p + 1], covariances[p], ahead_covariances[p + 1], gain, moved)
        for row in range(bands_n):
            for k in range(bands_n):
                means[p, row] += gain[row, k] * (means[p + 1, k] - ahead_means[p + 1, k])
                moved[row, k] = 0.0
                for j in range(bands_n):
                    moved[row, k] += gain[row, j] * (covariances[p + 1, j, k] - ahead_covariances[p + 1, j, k])
        for row in range(bands_n):
            for column in range(bands_n):
                for k in range(bands_n):
                    covariances[p, row, column] += moved[row, k] * gain[column, k]


@njit(cache=True)
def _gain(kept: float, before: Array, ahead: Array, gain: Array, root: Array) -> None:
    """Fill gain = kept x before x inverse of ahead, by Cholesky. Written out, as bands are few and weeks many."""
    bands_n = len(before)
    for row in range(bands_n):
        for column in range(row + 1):
            left = ahead[row, column]
            for k in range(column):
                left -= root[row, k] * root[column, k]
            root[row, column] = np.sqrt(left) if row == column else left / root[column, column]
    for line in range(bands_n):
        for row in range(bands_n):
            left = kept * before[line, row]
            for k in range(row):
                left -= root[row, k] * gain[line, k]
            gain[line, row] = left / root[row, row]
        for row in range(bands_n - 1, -1, -1):
            left = gain[line, row]
            for k in range(row + 1, bands_n):
                left -= root[k, row] * gain[line, k]
            gain[line, row] = left / root[row, row]


@njit(cache=True)
def _update_sites(
    axis: Array, tables: Array, band: Whole, period: Whole, sites: Array, means: Array, covariances: Array
) -> None:
    """Update every site: match its treatment with its cavity, what all other treatments say of the level."""
    for i in range(len(band)):
        mean, variance = means[period[i], band[i]], covariances[period[i], band[i], band[i]]
        cavity = 1.0 / variance - sites[0, i]
        if cavity < _LEAST_CAVITY / variance:
            continue
        cavity_mean = (mean / variance - sites[1, i]) / cavity
        log_whole, new_mean, new_variance = tilted_moments(cavity_mean, 1.0 / cavity, tables[i], axis)
        _set_site(sites, i, cavity_mean, 1.0 / cavity, log_whole, new_mean, new_variance, _DAMPING)


@njit(cache=True)
def _set_site(
    sites: Array,
    i: int,
    mean: float,
    variance: float,
    log_whole: float,
    new_mean: float,
    new_variance: float,
    part: float,
) -> None:
    """Set the normal site that turns the cavity into the tilted distribution, `part` of the way from the old one."""
    precision = 1.0 / new_variance - 1.0 / variance
    shift = new_mean / new_variance - mean / variance
    sites[0, i] += part * (precision - sites[0, i])
    sites[1, i] += part * (shift - sites[1, i])
    sites[2, i] = log_whole - _log_normaliser(mean, variance, sites[0, i], sites[1, i])


@njit(cache=True)
def _log_normaliser(mean: float, variance: float, precision: float, shift: float) -> float:
    """Log of the integral of N(mean, variance) times exp(-precision x^2 / 2 + shift x)."""
    grown = max(1.0 + precision * variance, _LEAST_GROWN)
    square = (mean + shift * variance) ** 2 / (variance * grown) - mean**2 / variance
    return float(0.5 * (square - np.log(grown)))
