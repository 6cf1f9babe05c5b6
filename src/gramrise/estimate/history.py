"""The levels given everything: the answer of a night, and the level of every past week."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.levels import Evidence, LevelModel, first_state
from gramrise.estimate.posterior import LevelState, kept_per_week
from gramrise.estimate.revisit import revisit_node
from gramrise.estimate.scatter import log_likelihood

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class History:
    """Levels in the weeks that hold treatments, given everything; log ratios to the starting table.

    week, delivery_changes  [periods]
    mean, sd                [periods, bands], the doubt about the spreads in them
    state                   the levels after the last treatment
    """

    week: Whole
    delivery_changes: Whole
    mean: Floats
    sd: Floats
    state: LevelState


def history_of(evidence: Evidence, bands_n: int, model: LevelModel) -> History:
    """Learn a whole history, going back over it as often as the settings say; treatments in event order."""
    if len(evidence) == 0:
        nothing, none = np.empty((0, bands_n)), np.empty(0, dtype=np.int64)
        return History(none, none, nothing, nothing, first_state(bands_n, model))
    periods, period = np.unique(np.stack([evidence.week, evidence.delivery_changes]), axis=1, return_inverse=True)
    weeks, changes = np.diff(periods, prepend=periods[:, :1], axis=1)
    kept = kept_per_week(model.spreads)[:, None] ** weeks * model.settings.delivery_change_keeps**changes
    tables = log_likelihood(evidence.ratio, evidence.ratio_sd, model.mass)
    prior, nodes = model.spreads.prior_covariance(bands_n), model.spreads.nodes
    means = np.empty((nodes, periods.shape[1], bands_n))
    covariances = np.empty((nodes, periods.shape[1], bands_n, bands_n))
    log_evidence = np.empty(nodes)
    for node in range(nodes):
        scatter = np.ascontiguousarray(tables[:, model.scatter_of_node[node]])
        log_evidence[node] = revisit_node(
            prior[node], kept[node], scatter, evidence.band, period.ravel(), model.settings.revisits,
            means[node], covariances[node],
        )  # fmt: skip
    weights = model.spreads.weights(log_evidence)
    mean = np.einsum("n,npb->pb", weights, means)
    second = np.einsum("n,npb->pb", weights, np.einsum("npbb->npb", covariances) + (means - mean) ** 2)
    last = LevelState(means[:, -1], covariances[:, -1], log_evidence, int(periods[0, -1]), int(periods[1, -1]))
    return History(periods[0], periods[1], mean, np.sqrt(second), last)
