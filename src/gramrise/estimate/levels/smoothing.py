"""Smoothing of the levels: all weeks given all treatments, by sweeps of expectation propagation."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.levels.band_levels import LevelModel, filtering_update, likelihood_tables, prior_state
from gramrise.estimate.levels.evidence import Evidence
from gramrise.estimate.levels.filtering import LevelState, PriorPredictive, kept_per_week
from gramrise.estimate.levels.scatter import AXIS

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

# Nodes of the grid with less weight than this are not smoothed: their part in the answer is smaller still.
LEAST_WEIGHT: Final = 2e-3


@dataclass(frozen=True, slots=True)
class LevelHistory:
    """Levels in the weeks that hold treatments, given all treatments; log ratios to the starting table.

    week, delivery_changes  [periods]
    mean, sd                [periods, bands], integrated over the hyperparameter grid
    state                   the levels after the last treatment
    prior_predictive        of each treatment, from the treatments before it
    """

    week: Whole
    delivery_changes: Whole
    mean: Floats
    sd: Floats
    state: LevelState
    prior_predictive: PriorPredictive


def smoothed_history(evidence: Evidence, bands_n: int, model: LevelModel) -> LevelHistory:
    """Smooth a whole history: filtering first, then as many EP sweeps as the settings say.

    Treatments in event order. Nodes of the grid that filtering finds all but impossible keep its result.
    """
    if len(evidence) == 0:
        nothing, none = np.empty((0, bands_n)), np.empty(0, dtype=np.int64)
        state, prior_predictive = filtering_update(prior_state(bands_n, model), evidence, model)
        return LevelHistory(none, none, nothing, nothing, state, prior_predictive)
    tables = likelihood_tables(evidence, model)
    forward, prior_predictive = filtering_update(prior_state(bands_n, model), evidence, model, tables)
    likely = np.flatnonzero(model.grid.weights(forward.log_evidence) > LEAST_WEIGHT)
    periods, log_evidence, means, covariances = _revisited(evidence, tables, bands_n, model, likely)
    last = _with_likely(forward, likely, log_evidence, means[:, -1], covariances[:, -1])
    weights = model.grid.weights(last.log_evidence)[likely]
    weights /= weights.sum()
    mean = np.einsum("n,npb->pb", weights, means)
    variance = np.einsum("n,npb->pb", weights, np.einsum("npbb->npb", covariances) + (means - mean) ** 2)
    return LevelHistory(periods[0], periods[1], mean, np.sqrt(variance), last, prior_predictive)


def _revisited(
    evidence: Evidence, tables: Floats, bands_n: int, model: LevelModel, nodes: NDArray[np.intp]
) -> tuple[Whole, Floats, Floats, Floats]:
    """Periods [2, periods], and for each of the nodes log evidence, means and covariances of every period."""
    from gramrise.estimate.compiled import ep_node

    both = np.stack([evidence.week, evidence.delivery_changes])
    periods, period = np.unique(both, axis=1, return_inverse=True)
    weeks, changes = np.diff(periods, prepend=periods[:, :1], axis=1)
    grid, keeps = model.grid, model.settings.delivery_change_keeps
    kept = kept_per_week(grid)[:, None] ** weeks * keeps**changes
    prior = grid.prior_covariance(bands_n)
    log_evidence, means = np.empty(len(nodes)), np.empty((len(nodes), periods.shape[1], bands_n))
    covariances = np.empty((*means.shape, bands_n))
    for i, node in enumerate(nodes):
        table = np.ascontiguousarray(tables[:, model.table_of_node[node]])
        log_evidence[i] = ep_node(
            prior[node], kept[node], AXIS, table, evidence.band, period.ravel(), model.settings.ep_sweeps,
            means[i], covariances[i],
        )  # fmt: skip
    return periods, log_evidence, means, covariances


def _with_likely(
    forward: LevelState, likely: NDArray[np.intp], log_evidence: Floats, mean: Floats, covariance: Floats
) -> LevelState:
    """The state after the last treatment, with the smoothed result for its likely nodes."""
    means, covariances, evidences = forward.mean.copy(), forward.covariance.copy(), forward.log_evidence.copy()
    means[likely], covariances[likely], evidences[likely] = mean, covariance, log_evidence
    return replace(forward, mean=means, covariance=covariances, log_evidence=evidences)
