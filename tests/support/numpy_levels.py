"""Filtering and expectation propagation of the levels in vectorised numpy, to hold the compiled loops against."""

import numpy as np

# As in `gramrise.estimate.compiled`.
Z = np.linspace(-4.8, 4.8, 25)
DROPPED_BEHIND, DAMPING, LEAST_GROWN, LEAST_CAVITY = 14.0, 0.8, 0.05, 1e-3


def tilted(mean, variance, tables, axis):
    """Log integral, mean, variance of normal distributions times likelihoods; mean, variance [...], tables [..., A]."""
    sd, step = np.sqrt(variance), axis[1] - axis[0]
    place = (mean[..., None] + sd[..., None] * Z - axis[0]) / step
    nearest = np.rint(place).astype(np.int64).clip(1, len(axis) - 2)
    off = (place - nearest).clip(-1.0, 1.0)
    before, here, after = (np.take_along_axis(tables, nearest + n, axis=-1) for n in (-1, 0, 1))
    height = here + off * (0.5 * (after - before) + off * (0.5 * (after + before) - here)) - 0.5 * Z**2
    best = height.max(axis=-1)
    product = np.exp(height - best[..., None])
    whole, first, second = product.sum(axis=-1), product @ Z, product @ Z**2
    first, second = first / whole, second / whole
    log_whole = np.log(whole * (Z[1] - Z[0]) / np.sqrt(2.0 * np.pi)) + best
    return log_whole, mean + sd * first, variance * (second - first**2)


def condition(mean, covariance, band, new_mean, new_variance):
    """Give one band of every node a new mean and variance, and move all bands by their covariance with it, in place."""
    variance = covariance[:, band, band].copy()
    gain = covariance[:, :, band] / variance[:, None]
    mean += (new_mean - mean[:, band])[:, None] * gain
    covariance += (new_variance - variance)[:, None, None] * gain[:, :, None] * gain[:, None, :]


def filter_tables(mean, covariance, log_evidence, grid, kept, keeps_change, axis, tables, evidence):
    """All nodes at once, one treatment after the other; as the compiled one, which drops hopeless nodes on the way."""
    week, changes = evidence.week[0], evidence.delivery_changes[0]
    prior = grid.prior_covariance(mean.shape[1])
    predictive = np.empty((len(evidence), 6))
    alive = np.arange(len(log_evidence))
    for i, band in enumerate(evidence.band.tolist()):
        if evidence.week[i] != week or evidence.delivery_changes[i] != changes:
            keeps = kept ** (evidence.week[i] - week) * keeps_change ** (evidence.delivery_changes[i] - changes)
            mean[alive] *= keeps[alive, None]
            squared = keeps[alive, None, None] ** 2
            covariance[alive] = squared * covariance[alive] + (1.0 - squared) * prior[alive]
            week, changes = evidence.week[i], evidence.delivery_changes[i]
        predictive[i] = prior_predictive(mean, covariance, log_evidence, grid, band)
        raised = log_evidence + grid.log_weight
        hopeless = raised < raised.max() - DROPPED_BEHIND
        log_evidence[hopeless] = -np.inf
        alive = np.flatnonzero(~hopeless)
        at, variance = mean[alive, band], covariance[alive, band, band]
        log_whole, new_mean, new_variance = tilted(at, variance, tables[i, alive], axis)
        log_evidence[alive] += log_whole
        some_mean, some_covariance = mean[alive], covariance[alive]
        condition(some_mean, some_covariance, band, new_mean, new_variance)
        mean[alive], covariance[alive] = some_mean, some_covariance
    return predictive


def prior_predictive(mean, covariance, log_evidence, grid, band):
    """Level, its sd, scatter, path bias, its sd, covariance of level and bias; mixed over the nodes."""
    weights = grid.weights(log_evidence)
    level, bias = weights @ mean[:, band], weights @ grid.path_bias
    square = weights @ (covariance[:, band, band] + mean[:, band] ** 2)
    bias_square, product = weights @ grid.path_bias**2, weights @ (grid.path_bias * mean[:, band])
    sds = np.sqrt(max(square - level**2, 0.0)), np.sqrt(max(bias_square - bias**2, 0.0))
    return level, sds[0], weights @ grid.event_sd, bias, sds[1], product - level * bias


def log_normaliser(mean, variance, precision, shift):
    """Log of the integral of N(mean, variance) times exp(-precision x^2 / 2 + shift x)."""
    grown = np.maximum(1.0 + precision * variance, LEAST_GROWN)
    return 0.5 * ((mean + shift * variance) ** 2 / (variance * grown) - mean**2 / variance - np.log(grown))


def ep_nodes(prior, kept, axis, tables, band, period, sweeps):
    """Expectation propagation for all nodes at once; sites of a sweep are updated together.

    prior [nodes, bands, bands]; kept [nodes, periods]; tables [nodes, treatments, AXIS]
    returns  log evidence [nodes], means [nodes, periods, bands], covariances
    """
    sites = np.zeros((3, len(prior), len(band)))
    log_evidence, means, covariances, ahead = _forward(prior, kept, axis, tables, band, period, sites, first=True)
    for _ in range(sweeps):
        _backward(kept, means, covariances, *ahead)
        mean, variance = means[:, period, band], covariances[:, period, band, band]
        cavity = 1.0 / variance - sites[0]
        told = cavity >= LEAST_CAVITY / variance
        safe = np.where(told, cavity, 1.0 / variance)
        cavity_mean = (mean / variance - sites[1]) / safe
        moments = tilted(cavity_mean, 1.0 / safe, tables, axis)
        moved = _sites(sites, cavity_mean, 1.0 / safe, *moments, DAMPING)
        sites = np.where(told, moved, sites)
        log_evidence, means, covariances, ahead = _forward(prior, kept, axis, tables, band, period, sites, first=False)
    _backward(kept, means, covariances, *ahead)
    return log_evidence, means, covariances


def _sites(sites, mean, variance, log_whole, new_mean, new_variance, part):
    precision = sites[0] + part * (1.0 / new_variance - 1.0 / variance - sites[0])
    shift = sites[1] + part * (new_mean / new_variance - mean / variance - sites[1])
    return np.array([precision, shift, log_whole - log_normaliser(mean, variance, precision, shift)])


def _forward(prior, kept, axis, tables, band, period, sites, first):
    nodes, bands, periods = len(prior), prior.shape[1], kept.shape[1]
    means, covariances = np.zeros((nodes, periods, bands)), np.zeros((nodes, periods, bands, bands))
    ahead_means, ahead_covariances = np.zeros_like(means), np.zeros_like(covariances)
    mean, covariance = np.zeros((nodes, bands)), prior.copy()
    log_evidence, i = np.zeros(nodes), 0
    for p in range(periods):
        if p:
            keeps = kept[:, p, None]
            mean = keeps * mean
            covariance = keeps[..., None] ** 2 * covariance + (1.0 - keeps[..., None] ** 2) * prior
        ahead_means[:, p], ahead_covariances[:, p] = mean, covariance
        while i < len(band) and period[i] == p:
            b = band[i]
            at, variance = mean[:, b].copy(), covariance[:, b, b].copy()
            if first:
                moments = tilted(at, variance, tables[:, i], axis)
                sites[:, :, i] = _sites(sites[:, :, i], at, variance, *moments, 1.0)
            grown = np.maximum(1.0 + sites[0, :, i] * variance, LEAST_GROWN)
            log_evidence += sites[2, :, i] + log_normaliser(at, variance, sites[0, :, i], sites[1, :, i])
            condition(mean, covariance, b, (at + sites[1, :, i] * variance) / grown, variance / grown)
            i += 1
        means[:, p], covariances[:, p] = mean, covariance
    return log_evidence, means, covariances, (ahead_means, ahead_covariances)


def _backward(kept, means, covariances, ahead_means, ahead_covariances):
    gains = kept[:, 1:, None, None] * covariances[:, :-1] @ np.linalg.inv(ahead_covariances[:, 1:])
    for p in range(kept.shape[1] - 2, -1, -1):
        gain = gains[:, p]
        means[:, p] += np.einsum("nij,nj->ni", gain, means[:, p + 1] - ahead_means[:, p + 1])
        covariances[:, p] += gain @ (covariances[:, p + 1] - ahead_covariances[:, p + 1]) @ gain.transpose(0, 2, 1)
