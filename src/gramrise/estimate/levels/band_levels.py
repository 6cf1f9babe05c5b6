"""The levels of a person's time bands: theta[band, week] = log of the rise factor over the starting table's."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.levels.evidence import Evidence
from gramrise.estimate.levels.filtering import (
    LevelState,
    PriorPredictive,
    filtered,
    mixed_over_grid,
    predicted_at,
    prior_level_state,
)
from gramrise.estimate.levels.hyperparameter_grid import HyperparameterGrid, hyperparameter_grid
from gramrise.estimate.levels.scatter import log_likelihood, scatter_mass
from gramrise.estimate.settings import LevelSettings

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class LevelModel:
    """The model, with all that does not depend on data computed once."""

    settings: LevelSettings
    grid: HyperparameterGrid
    mass: Floats  # [scatters, AXIS, OWN]
    biases: Floats  # [biases] the path biases of the grid, mg/dL
    table_of_node: Whole  # [nodes] which of the tables of `tables_of` a node reads


@dataclass(frozen=True, slots=True)
class BandLevels:
    """The levels of one person's bands now; log ratios to the starting table."""

    mean: Floats  # [bands]
    sd: Floats  # [bands], without systematic uncertainty
    covariance: Floats  # [bands, bands]
    event_sd_log: float  # posterior mean of the scatter of treatments
    sd_of_bias: Floats  # [bands] the part of sd that comes from the path bias
    state: LevelState


@cache
def level_model(settings: LevelSettings) -> LevelModel:
    grid = hyperparameter_grid(settings)
    scatters, scatter_of_node = np.unique(grid.event_sd, return_inverse=True)
    biases, bias_of_node = np.unique(grid.path_bias, return_inverse=True)
    mass = scatter_mass(scatters, settings.event_degrees_of_freedom)
    return LevelModel(settings, grid, mass, biases, bias_of_node * len(scatters) + scatter_of_node)


def likelihood_tables(evidence: Evidence, model: LevelModel) -> Floats:
    """Log likelihood of the band's level, [treatments, biases x scatters, AXIS]."""
    by_bias = [
        log_likelihood(evidence.ratio - bias * evidence.ratio_per_mg_dl, evidence.ratio_sd, model.mass)
        for bias in model.biases
    ]
    return np.concatenate(by_bias, axis=1)


def filtering_update(
    state: LevelState, evidence: Evidence, model: LevelModel, tables: Floats | None = None
) -> tuple[LevelState, PriorPredictive]:
    """Update the state with treatments in event order.

    tables   `tables_of` the evidence, where the caller has them
    returns  the state after the last one, and the prior predictive of each
    raises   ValueError when a treatment lies in an earlier week than one before it
    """
    if np.any(np.diff(evidence.week, prepend=evidence.week[:1] if state.week is None else state.week) < 0):
        raise ValueError("treatments must be learned in event order")
    return filtered(
        state,
        model.grid,
        model.settings.delivery_change_keeps,
        likelihood_tables(evidence, model) if tables is None else tables,
        model.table_of_node,
        evidence.band,
        evidence.week,
        evidence.delivery_changes,
    )


def levels_at(state: LevelState, week: int, delivery_changes: int, model: LevelModel) -> BandLevels:
    """The levels in a week, at or after the state's own."""
    later = at_week(state, week, delivery_changes, model)
    mean, covariance = mixed_over_grid(later, model.grid)
    weights = model.grid.weights(later.log_evidence)
    return BandLevels(
        mean=mean,
        sd=np.sqrt(np.diag(covariance)),
        covariance=covariance,
        event_sd_log=float(weights @ model.grid.event_sd),
        sd_of_bias=_sd_of_bias(later, weights, model),
        state=later,
    )


def at_week(state: LevelState, week: int, delivery_changes: int, model: LevelModel) -> LevelState:
    return predicted_at(state, week, delivery_changes, model.grid, model.settings.delivery_change_keeps)


def prior_state(bands_n: int, model: LevelModel) -> LevelState:
    """The state before any treatment: the starting table."""
    return prior_level_state(model.grid, bands_n)


def _sd_of_bias(state: LevelState, weights: Floats, model: LevelModel) -> Floats:
    """The sd of the levels between the path biases of the grid, [bands]."""
    mean = weights @ state.mean
    between = np.zeros(state.bands_n)
    for bias in model.biases:
        mine = np.where(model.grid.path_bias == bias, weights, 0.0)
        if mine.sum() > 0:
            between += mine.sum() * (mine @ state.mean / mine.sum() - mean) ** 2
    return np.sqrt(between)
