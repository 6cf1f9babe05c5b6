"""Going back over a history, compiled: each treatment's normal stand-in is matched anew with all others known.

Carrying forward matches a treatment with what was known before it. Going back and forth (expectation propagation, Minka
2001) matches it with what all others say, on a chain of weeks whose joint precision is banded: a forward filter and a
backward smoother (Rauch, Tung & Striebel 1965) cost a fixed time a week. It also gives the level in every past week.

The compiler's cache does not see a change in `forward`, whose functions are called here: change this file too.
"""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from gramrise.estimate.levels.compiled_filtering import condition_bands, tilted_moments

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

# Part of the way from the old stand-in to the new one; below 1 so that neighbours moved at once do not overshoot.
_PART_OF_THE_WAY = 0.8
# A stand-in may widen (heavy tails do), but never more than this turns a variance around.
_LEAST_GROWN = 0.05
# A stand-in is left alone where the rest would be less sure than this part of the whole.
_LEAST_REST = 1e-3


@njit(cache=True)
def ep_node(
    prior: Floats,
    kept: Floats,
    tables: Floats,
    band: Whole,
    period: Whole,
    sweeps: int,
    means: Floats,
    covariances: Floats,
) -> float:
    """One node of the spreads: returns its log evidence, fills the levels of every period given everything.

    prior        [bands, bands]      covariance of the levels before any treatment, their mean is 0
    kept         [periods]           correlation of a level with itself in the period before
    tables       [treatments, AXIS]  log likelihood of the band's level
    band, period [treatments]        event order
    means        [periods, bands]    filled
    covariances  [periods, bands, bands]  filled
    """
    periods_n, bands_n = means.shape
    sites = np.zeros((3, len(band)))  # precision, precision x mean, log of height
    ahead_means, ahead_covariances = np.zeros((periods_n, bands_n)), np.zeros((periods_n, bands_n, bands_n))
    log_evidence = _forward(
        prior, kept, tables, band, period, sites, True, means, covariances, ahead_means, ahead_covariances
    )
    for _ in range(sweeps):
        _backward(kept, means, covariances, ahead_means, ahead_covariances)
        _update_sites(tables, band, period, sites, means, covariances)
        log_evidence = _forward(
            prior, kept, tables, band, period, sites, False, means, covariances, ahead_means, ahead_covariances
        )
    _backward(kept, means, covariances, ahead_means, ahead_covariances)
    return log_evidence


@njit(cache=True)
def _forward(
    prior: Floats,
    kept: Floats,
    tables: Floats,
    band: Whole,
    period: Whole,
    sites: Floats,
    first: bool,
    means: Floats,
    covariances: Floats,
    ahead_means: Floats,
    ahead_covariances: Floats,
) -> float:
    """Filter with the stand-ins; the first time they are found on the way. Returns the log evidence."""
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
                log_whole, new_mean, new_variance = tilted_moments(mean, variance, tables[i])
                _set_site(sites, i, mean, variance, log_whole, new_mean, new_variance, 1.0)
            grown = max(1.0 + sites[0, i] * variance, _LEAST_GROWN)
            new_mean = (mean + sites[1, i] * variance) / grown
            log_evidence += sites[2, i] + _log_normaliser(mean, variance, sites[0, i], sites[1, i])
            condition_bands(means[p], covariances[p], b, new_mean, variance / grown)
            i += 1
    return log_evidence


@njit(cache=True)
def _backward(kept: Floats, means: Floats, covariances: Floats, ahead_means: Floats, ahead_covariances: Floats) -> None:
    """Smooth in place: what was filtered becomes what is known given everything."""
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
def _gain(kept: float, before: Floats, ahead: Floats, gain: Floats, root: Floats) -> None:
    """Fill gain = kept x before x inverse of ahead, by Cholesky; written out since bands are few and weeks many."""
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
    tables: Floats, band: Whole, period: Whole, sites: Floats, means: Floats, covariances: Floats
) -> None:
    """Match every treatment anew with what all others say of its level."""
    for i in range(len(band)):
        mean, variance = means[period[i], band[i]], covariances[period[i], band[i], band[i]]
        rest = 1.0 / variance - sites[0, i]
        if rest < _LEAST_REST / variance:
            continue
        without = (mean / variance - sites[1, i]) / rest
        log_whole, new_mean, new_variance = tilted_moments(without, 1.0 / rest, tables[i])
        _set_site(sites, i, without, 1.0 / rest, log_whole, new_mean, new_variance, _PART_OF_THE_WAY)


@njit(cache=True)
def _set_site(
    sites: Floats,
    i: int,
    mean: float,
    variance: float,
    log_whole: float,
    new_mean: float,
    new_variance: float,
    part: float,
) -> None:
    """The normal stand-in that turns one distribution into the other; `part` of the way from the old one."""
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
