"""The levels' posterior, carried forward treatment by treatment: one Gaussian per node of the spreads.

A state is all that has to be kept of history: a new night is learned without going back. Between treatments levels
walk and are drawn back to the starting table just as much, so that the prior is the same in every week.
Levels are log ratios to the starting table; a treatment's likelihood need not be Gaussian: its mean and variance under
the level's present distribution are matched (assumed-density filtering, Minka 2001).
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.scatter import AXIS, AXIS_STEP
from gramrise.estimate.spreads import Spreads

Floats = NDArray[np.float64]

# Where a level's distribution is met with a likelihood: evenly spaced, in its standard deviations; the trapezoid rule
# on a smooth function that has died away at both ends is as good as exact.
_Z: Final = np.linspace(-5.0, 5.0, 41)


@dataclass(frozen=True, slots=True)
class LevelState:
    """The levels of one person's bands at one time.

    mean          [nodes, bands]         log ratio to the starting table
    covariance    [nodes, bands, bands]
    log_evidence  [nodes]                log marginal likelihood of all treatments learned from
    week          number of the week for which it holds; None before the first treatment
    delivery_changes  changes of insulin delivery that lie behind it
    """

    mean: Floats
    covariance: Floats
    log_evidence: Floats
    week: int | None = None
    delivery_changes: int = 0

    @property
    def bands_n(self) -> int:
        return int(self.mean.shape[1])


def before_any_treatment(spreads: Spreads, bands_n: int) -> LevelState:
    """The prior: the starting table, in every band."""
    return LevelState(
        mean=np.zeros((spreads.nodes, bands_n)),
        covariance=spreads.prior_covariance(bands_n),
        log_evidence=np.zeros(spreads.nodes),
    )


def kept_per_week(spreads: Spreads) -> Floats:
    """Correlation of a level with itself one week later, [nodes]: so chosen that one step has sd `walk_sd_per_week`."""
    variance = spreads.person_sd**2 + spreads.band_sd**2
    return np.asarray(np.sqrt(1.0 - np.minimum(spreads.walk_sd_per_week**2 / variance, 1.0)))


def moved_to(state: LevelState, week: int, delivery_changes: int, spreads: Spreads, change_keeps: float) -> LevelState:
    """The state in a later week; over each change of delivery a level keeps the correlation `change_keeps`."""
    weeks = 0 if state.week is None else week - state.week
    keeps = kept_per_week(spreads) ** weeks * change_keeps ** (delivery_changes - state.delivery_changes)
    if np.all(keeps == 1.0):
        return replace(state, week=week)
    prior = spreads.prior_covariance(state.bands_n)
    keeps_squared = (keeps**2)[:, None, None]
    return replace(
        state,
        mean=keeps[:, None] * state.mean,
        covariance=keeps_squared * state.covariance + (1.0 - keeps_squared) * prior,
        week=week,
        delivery_changes=delivery_changes,
    )


def met_with(mean: Floats, variance: Floats, log_likelihood: Floats) -> tuple[Floats, Floats, Floats]:
    """A normal distribution times a tabulated likelihood: log of the integral, mean and variance of the product.

    mean, variance  [nodes]
    log_likelihood  [nodes, AXIS]; between its points a parabola through three of them
    """
    sd = np.sqrt(variance)
    at = mean[:, None] + sd[:, None] * _Z
    place = (at - AXIS[0]) / AXIS_STEP
    nearest = np.clip(np.rint(place).astype(np.intp), 1, len(AXIS) - 2)
    off = np.clip(place - nearest, -1.0, 1.0)
    rows = np.arange(len(mean))[:, None]
    before, here, after = (log_likelihood[rows, nearest + step] for step in (-1, 0, 1))
    log_product = here + off * (0.5 * (after - before) + off * (0.5 * (after + before) - here)) - 0.5 * _Z**2
    best = log_product.max(axis=1, keepdims=True)
    product = np.exp(log_product - best)
    whole = product.sum(axis=1)
    first = product @ _Z / whole
    second = product @ _Z**2 / whole - first**2
    log_integral = np.log(whole * (_Z[1] - _Z[0]) / np.sqrt(2.0 * np.pi)) + best[:, 0]
    return log_integral, mean + sd * first, variance * second


def learned(state: LevelState, band: int, log_likelihood: Floats) -> LevelState:
    """The state after one treatment of a band; `log_likelihood` [nodes, AXIS] of that band's level."""
    mean, variance = state.mean[:, band], state.covariance[:, band, band]
    log_integral, new_mean, new_variance = met_with(mean, variance, log_likelihood)
    return _with_band(state, band, log_integral, new_mean, new_variance)


def learned_normal(state: LevelState, band: int, value: float, variances: Floats) -> LevelState:
    """The state after one measurement with normal noise of a band's level; `variances` [nodes].

    The normal part of the shrinkage: textbook series are pooled through this and the same spreads.
    """
    mean, variance = state.mean[:, band], state.covariance[:, band, band]
    whole = variance + variances
    log_integral = -0.5 * (np.log(2.0 * np.pi * whole) + (value - mean) ** 2 / whole)
    gain = variance / whole
    return _with_band(state, band, log_integral, mean + gain * (value - mean), variance * (1.0 - gain))


def mixed(state: LevelState, spreads: Spreads) -> tuple[Floats, Floats]:
    """Mean [bands] and covariance [bands, bands] of the levels with the doubt about the spreads in them."""
    weights = spreads.weights(state.log_evidence)
    mean = weights @ state.mean
    off = state.mean - mean
    between = np.einsum("n,ni,nj->ij", weights, off, off)
    return mean, np.einsum("n,nij->ij", weights, state.covariance) + between


def _with_band(
    state: LevelState, band: int, log_integral: Floats, new_mean: Floats, new_variance: Floats
) -> LevelState:
    """Pass one band's new mean and variance on to all bands through their covariance."""
    along = state.covariance[:, :, band]
    variance = along[:, band]
    gain = along / variance[:, None]
    moved = (new_mean - state.mean[:, band])[:, None] * gain
    narrowed = (new_variance - variance)[:, None, None] * gain[:, :, None] * gain[:, None, :]
    return replace(
        state,
        mean=state.mean + moved,
        covariance=state.covariance + narrowed,
        log_evidence=state.log_evidence + log_integral,
    )
