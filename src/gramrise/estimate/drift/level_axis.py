"""The axis of a band's level, and how a level moves from one week to the next: it stays, walks a little, or jumps."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from gramrise.estimate.array_types import Array
from gramrise.estimate.levels import level_model, scatter_mass
from gramrise.estimate.settings import DriftSettings, LevelSettings


@dataclass(frozen=True, slots=True)
class DriftModel:
    """All that does not depend on data.

    axis         [cells] log ratio to the starting table
    prior        [cells] of a level before any treatment
    walk, jump   [cells, cells] from the row's level to the column's, rows sum to 1
    scatter_log_weight  [scatters] prior of the scatter of treatments
    mass         [scatters, cells, OWN] of a treatment's own log ratio
    """

    settings: DriftSettings
    axis: Array
    prior: Array
    walk: Array
    jump: Array
    scatter_log_weight: Array
    mass: Array


@cache
def drift_model(settings: DriftSettings, levels: LevelSettings) -> DriftModel:
    """The chain's parts. The scatter of treatments has the prior it has for the levels."""
    cells = round(settings.axis_reach_log / settings.axis_step_log)
    axis: Array = np.arange(-cells, cells + 1, dtype=np.float64) * settings.axis_step_log
    grid = level_model(levels).grid
    scatters, which = np.unique(grid.event_sd, return_inverse=True)
    weight = np.bincount(which, np.exp(grid.log_weight))
    prior_sd = np.hypot(levels.person_sd_log, levels.band_sd_log)
    return DriftModel(
        settings=settings,
        axis=axis,
        prior=_rows_of_one(_bell(axis, float(prior_sd))),
        walk=_small_walk(len(axis), settings.walk_sd_log_per_week / settings.axis_step_log),
        jump=_rows_of_one(_bell(axis[None, :] - axis[:, None], settings.jump_sd_log)),
        scatter_log_weight=np.log(weight),
        mass=scatter_mass(scatters, levels.event_degrees_of_freedom, axis),
    )


def _small_walk(cells: int, sd_cells: float) -> Array:
    """A walk whose week has the sd `sd_cells` (at most 1): stay, or go to a neighbouring cell."""
    aside = min(sd_cells**2, 1.0) / 2.0
    walk = np.eye(cells) * (1.0 - 2.0 * aside) + aside * (np.eye(cells, k=1) + np.eye(cells, k=-1))
    walk[0, 0] += aside
    walk[-1, -1] += aside
    return walk


def _bell(away: Array, sd: float) -> Array:
    return np.asarray(np.exp(-0.5 * (away / sd) ** 2))


def _rows_of_one(values: Array) -> Array:
    return np.asarray(values / values.sum(axis=-1, keepdims=True))
