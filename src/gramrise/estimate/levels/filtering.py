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

from gramrise.estimate.levels.compiled_filtering import filter_normal, filter_tables
from gramrise.estimate.levels.hyperparameter_grid import HyperparameterGrid

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


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


@dataclass(frozen=True, slots=True)
class PriorPredictive:
    """What was known of each treatment before it was learned from; arrays [treatments]."""

    level: Floats  # of its band, log ratio to the table
    level_sd: Floats
    event_sd: Floats  # scatter of treatments, sd of log
    path_bias: Floats  # mg/dL by which the path is thought to lie too low
    path_bias_sd: Floats
    covariance: Floats  # of level and path bias, mg/dL


PRIOR_PREDICTIVE_COLUMNS: Final = tuple(PriorPredictive.__dataclass_fields__)


def prior_level_state(grid: HyperparameterGrid, bands_n: int) -> LevelState:
    """The prior: the starting table, in every band."""
    return LevelState(
        mean=np.zeros((grid.nodes, bands_n)),
        covariance=grid.prior_covariance(bands_n),
        log_evidence=np.zeros(grid.nodes),
    )


def kept_per_week(grid: HyperparameterGrid) -> Floats:
    """Correlation of a level with itself one week later, [nodes]: so chosen that one step has sd `walk_sd_per_week`."""
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
    """The state after treatments in event order, and what was foretold of each before it was learned.

    tables         [treatments, tables, AXIS] log likelihood of the band's level
    table_of_node  [nodes] which table a node reads
    band, week, delivery_changes  [treatments]
    """
    mean, covariance, log_evidence = state.mean.copy(), state.covariance.copy(), state.log_evidence.copy()
    told = np.empty((len(band), len(PRIOR_PREDICTIVE_COLUMNS)))
    if len(band) == 0:
        return state, PriorPredictive(*told.T)
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
        np.ascontiguousarray(tables),
        table_of_node,
        band,
        week,
        delivery_changes,
        told,
    )
    after = LevelState(mean, covariance, log_evidence, int(week[-1]), int(delivery_changes[-1]))
    return after, PriorPredictive(*told.T)


def filtered_normal(state: LevelState, band: int, value: float, variance: float) -> LevelState:
    """The state after one measurement with normal noise of a band's level.

    The normal part of the shrinkage: textbook series are pooled through this and the same spreads.
    """
    mean, covariance, log_evidence = state.mean.copy(), state.covariance.copy(), state.log_evidence.copy()
    filter_normal(mean, covariance, log_evidence, band, value, variance)
    return replace(state, mean=mean, covariance=covariance, log_evidence=log_evidence)


def mixed_over_grid(state: LevelState, grid: HyperparameterGrid) -> tuple[Floats, Floats]:
    """Mean [bands] and covariance [bands, bands] of the levels with the doubt about the spreads in them."""
    weights = grid.weights(state.log_evidence)
    mean = weights @ state.mean
    off = state.mean - mean
    between = np.einsum("n,ni,nj->ij", weights, off, off)
    return mean, np.einsum("n,nij->ij", weights, state.covariance) + between
