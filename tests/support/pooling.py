"""The normal part of the levels on its own: measurements with known normal noise, shrunk to each other.

The same posterior, spreads and marginal likelihood as the person's levels, without tables, scatter or walk; so that
textbook series (schools, laboratories, trials, batting averages) run through the code that families depend on.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.levels.filtering import LevelState, mixed_over_grid, prior_level_state
from gramrise.estimate.levels.hyperparameter_grid import AS_GOOD_AS_UNKNOWN, HyperparameterGrid

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pooled:
    """Levels of the series after all measurements, the doubt about their spread in them."""

    mean: Floats  # [values] shrunken level of each
    sd: Floats  # [values]
    common_mean: float  # the level they share
    common_sd: float
    spread_mean: float  # sd between the levels
    log_evidence: (
        Floats  # [nodes] log marginal likelihood of each spread; with an unknown common level: restricted (REML)
    )


def spreads_between(
    between_sd: Floats, common_sd: float = AS_GOOD_AS_UNKNOWN, prior_log: Floats | None = None
) -> HyperparameterGrid:
    """A grid over the sd between levels; `common_sd` is the prior sd of what they share."""
    nodes = len(between_sd)
    weight = np.zeros(nodes) if prior_log is None else prior_log
    nothing = np.zeros(nodes)
    log_weight = weight - np.log(np.exp(weight).sum())
    return HyperparameterGrid(np.full(nodes, common_sd), between_sd, nothing, nothing, nothing, log_weight)


def pooled(values: Floats, variances: Floats, grid: HyperparameterGrid, centre: float = 0.0) -> Pooled:
    """Pool values with known noise variances; each is a band of its own. `centre` is the prior mean of what they share.

    The shared level is read off one more band that nothing is measured of.
    """
    count = len(values)
    state = prior_level_state(grid, count + 1)
    for band, (value, variance) in enumerate(zip(values, variances, strict=True)):
        state = filtered_normal(state, band, float(value) - centre, float(variance))
    mean, covariance = mixed_over_grid(state, grid)
    weights = grid.weights(state.log_evidence)
    sd = np.sqrt(np.diag(covariance))
    return Pooled(
        mean=mean[:count] + centre,
        sd=sd[:count],
        common_mean=float(mean[count]) + centre,
        common_sd=float(np.sqrt(max(sd[count] ** 2 - weights @ grid.band_sd**2, 0.0))),
        spread_mean=float(weights @ grid.band_sd),
        log_evidence=state.log_evidence,
    )


def filtered_normal(state: LevelState, band: int, value: float, variance: float) -> LevelState:
    """The state after one measurement of a band's level with normal noise: a Kalman update of every node."""
    mean, at, own = state.mean, state.mean[:, band], state.covariance[:, band, band]
    whole = own + variance
    gain = state.covariance[:, :, band] / whole[:, None]
    log_density = -0.5 * (np.log(2.0 * np.pi * whole) + (value - at) ** 2 / whole)
    return replace(
        state,
        mean=mean + gain * (value - at)[:, None],
        covariance=state.covariance - gain[:, :, None] * gain[:, None, :] * whole[:, None, None],
        log_evidence=state.log_evidence + log_density,
    )
