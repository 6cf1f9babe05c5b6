"""The hyperparameter grid: scatter of treatments, weekly walk and path bias, each node with its prior weight.

Every node has its own posterior of the levels, and its marginal likelihood weighs it. So the answer is integrated over
the hyperparameters, and nothing is maximised.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.settings import LevelSettings

Floats = NDArray[np.float64]

# A standard deviation that stands for "not known at all" beside values of the size of one.
AS_GOOD_AS_UNKNOWN: Final = 1e4


@dataclass(frozen=True, slots=True)
class HyperparameterGrid:
    """Nodes of the grid; arrays [nodes], sd of log (of the value itself where textbook data are pooled)."""

    person_sd: Floats  # of a person's level about the starting table
    band_sd: Floats  # of a band about the person's level
    walk_sd_per_week: Floats  # of one week's step of a level
    event_sd: Floats  # of single treatments about their band's level
    path_bias: Floats  # mg/dL by which the untreated path lies too low for every treatment of the person
    log_weight: Floats  # log of the prior weight, normalised

    @property
    def nodes(self) -> int:
        return len(self.log_weight)

    def prior_covariance(self, bands_n: int) -> Floats:
        """Covariance of the bands' levels before any treatment, [nodes, bands, bands]."""
        same = self.person_sd[:, None, None] ** 2 * np.ones((bands_n, bands_n))
        return same + self.band_sd[:, None, None] ** 2 * np.eye(bands_n)

    def weights(self, log_evidence: Floats) -> Floats:
        """Posterior weights of the nodes, summing to 1, from the log evidence of each, [nodes]."""
        raised = self.log_weight + log_evidence
        weights = np.exp(raised - raised.max())
        return np.asarray(weights / weights.sum())


def hyperparameter_grid(settings: LevelSettings) -> HyperparameterGrid:
    """The grid of scatter, walk and path bias. A priori they are independent, two log-normal and the last normal."""
    event_z, event_weight = _normal_nodes(settings.event_nodes)
    walk_z, walk_weight = _normal_nodes(settings.walk_nodes)
    bias_z, bias_weight = _normal_nodes(settings.path_bias_nodes)
    event = settings.event_sd_log * np.exp(settings.event_sd_spread_log * event_z)
    walk = settings.walk_sd_log_per_week * np.exp(settings.walk_spread_log * walk_z)
    bias = settings.path_bias_sd_mg_dl * bias_z
    each = [grid.ravel() for grid in np.meshgrid(event, walk, bias, indexing="ij")]
    log_weight = np.log(np.einsum("e,w,b->ewb", event_weight, walk_weight, bias_weight)).ravel()
    nodes = len(log_weight)
    return HyperparameterGrid(
        person_sd=np.full(nodes, settings.person_sd_log),
        band_sd=np.full(nodes, settings.band_sd_log),
        walk_sd_per_week=each[1],
        event_sd=each[0],
        path_bias=each[2],
        log_weight=log_weight,
    )


def _normal_nodes(nodes: int) -> tuple[Floats, Floats]:
    """Evenly spaced nodes of a standard normal and their weights (density, normalised), the variance nearly 1.

    Evenly spaced, since data may pin the value down to less than the prior's width; the reach grows with the number.
    """
    z = np.linspace(-1.0, 1.0, nodes) * (1.0 + 0.3 * nodes) if nodes > 1 else np.zeros(1)
    weights = np.exp(-0.5 * z**2)
    return z, weights / weights.sum()
