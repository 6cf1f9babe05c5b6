"""Filtering of the levels, treatment by treatment: one Gaussian per node of the hyperparameter grid.

Levels are log ratios to the starting table. Between treatments they walk, and are drawn back to the table by as much,
so that the prior is the same in every week. A filtering update replaces the posterior by the Gaussian with its mean
and variance, since a treatment's likelihood need not be Gaussian (assumed-density filtering, Minka 2001).
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.levels.hyperparameter_grid import HyperparameterGrid
from gramrise.estimate.levels.scatter import AXIS

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class LevelState:
    """The levels of one person's bands at one time.

    mean          [nodes, bands]         log ratio to the starting table
    covariance    [nodes, bands, bands]
    log_evidence  [nodes]                log marginal likelihood of all treatments so far
    week          number of the week of the state; None before the first treatment
    delivery_changes  number of changes of insulin delivery before it
    """

    mean: Floats
    covariance: Floats
    log_evidence: Floats
    week: int | None = None
    delivery_changes: int = 0

    @property
    def bands_n(self) -> int:
        return int(self.mean.shape[1])


@dataclass(frozen=True, slots=True)
class PriorPredictive:
    """The prior predictive of each treatment, from all treatments before it; arrays [treatments]."""

    level: Floats  # of its band, log ratio to the table
    level_sd: Floats
    event_sd: Floats  # scatter of treatments, sd of log
    path_bias: Floats  # mg/dL by which the untreated path is too low, mean
    path_bias_sd: Floats
    covariance: Floats  # of level and path bias, mg/dL


PRIOR_PREDICTIVE_COLUMNS: Final = tuple(PriorPredictive.__dataclass_fields__)


def prior_level_state(grid: HyperparameterGrid, bands_n: int) -> LevelState:
    """The state before any treatment: the starting table in every band."""
    return LevelState(
        mean=np.zeros((grid.nodes, bands_n)),
        covariance=grid.prior_covariance(bands_n),
        log_evidence=np.zeros(grid.nodes),
    )


def kept_per_week(grid: HyperparameterGrid) -> Floats:
    """Correlation of a level with itself one week later, [nodes]; it gives one step the sd `walk_sd_per_week`."""
    variance = grid.person_sd**2 + grid.band_sd**2
    return np.asarray(np.sqrt(1.0 - np.minimum(grid.walk_sd_per_week**2 / variance, 1.0)))


def predicted_at(
    state: LevelState, week: int, delivery_changes: int, grid: HyperparameterGrid, change_keeps: float
) -> LevelState:
    """The state in a later week; over each change of delivery a level keeps the correlation `change_keeps`."""
    weeks = 0 if state.week is None else week - state.week
    keeps = kept_per_week(grid) ** weeks * change_keeps ** (delivery_changes - state.delivery_changes)
    keeps_squared = (keeps**2)[:, None, None]
    prior = grid.prior_covariance(state.bands_n)
    return replace(
        state,
        mean=keeps[:, None] * state.mean,
        covariance=keeps_squared * state.covariance + (1.0 - keeps_squared) * prior,
        week=week,
        delivery_changes=delivery_changes,
    )


def filtered(
    state: LevelState,
    grid: HyperparameterGrid,
    change_keeps: float,
    tables: Floats,
    table_of_node: Whole,
    band: Whole,
    week: Whole,
    delivery_changes: Whole,
) -> tuple[LevelState, PriorPredictive]:
    """The state after treatments in event order, and the prior predictive of each.

    tables         [treatments, tables, AXIS] log likelihood of the band's level
    table_of_node  [nodes] which table a node reads
    band, week, delivery_changes  [treatments]
    """
    from gramrise.estimate.compiled import filter_tables

    mean, covariance, log_evidence = state.mean.copy(), state.covariance.copy(), state.log_evidence.copy()
    predictive = np.empty((len(band), len(PRIOR_PREDICTIVE_COLUMNS)))
    if len(band) == 0:
        return state, PriorPredictive(*predictive.T)
    filter_tables(
        mean,
        covariance,
        log_evidence,
        int(week[0]) if state.week is None else state.week,
        state.delivery_changes,
        kept_per_week(grid),
        change_keeps,
        grid.prior_covariance(state.bands_n),
        grid.log_weight,
        grid.event_sd,
        grid.path_bias,
        AXIS,
        np.ascontiguousarray(tables),
        table_of_node,
        band,
        week,
        delivery_changes,
        predictive,
    )
    after = LevelState(mean, covariance, log_evidence, int(week[-1]), int(delivery_changes[-1]))
    return after, PriorPredictive(*predictive.T)


def mixed_over_grid(state: LevelState, grid: HyperparameterGrid) -> tuple[Floats, Floats]:
    """Mean [bands] and covariance [bands, bands] of the levels, integrated over the hyperparameter grid."""
    weights = grid.weights(state.log_evidence)
    mean = weights @ state.mean
    off = state.mean - mean
    between = np.einsum("n,ni,nj->ij", weights, off, off)
    return mean, np.einsum("n,nij->ij", weights, state.covariance) + between
