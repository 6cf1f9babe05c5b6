"""The spreads that are not known beforehand: a grid of them, each node with its prior weight.

Every node carries its own level posterior; nodes are weighed by how well they foretold the treatments (marginal
likelihood). So the doubt about the spreads is in the answer, and nothing has to be maximised.
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
class Spreads:
    """Nodes of the grid; arrays [nodes], sd of log (of the value itself where textbook data are pooled)."""

    person_sd: Floats  # of a person's level about the starting table
    band_sd: Floats  # of a band about the person's level
    walk_sd_per_week: Floats  # of one week's step of a level
    event_sd: Floats  # of single treatments about their band's level
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


def grid_of_spreads(settings: LevelSettings) -> Spreads:
    """The grid of event scatter and walk; the two are log-normal and independent beforehand."""
    event, event_weight = _log_normal_nodes(
        settings.event_sd_log, settings.event_sd_spread_log, settings.event_nodes, settings.grid_half_width_sd
    )
    walk, walk_weight = _log_normal_nodes(
        settings.walk_sd_log_per_week, settings.walk_spread_log, settings.walk_nodes, settings.grid_half_width_sd
    )
    nodes = len(event) * len(walk)
    log_weight = np.log(np.outer(event_weight, walk_weight).ravel())
    return Spreads(
        person_sd=np.full(nodes, settings.person_sd_log),
        band_sd=np.full(nodes, settings.band_sd_log),
        walk_sd_per_week=np.tile(walk, len(event)),
        event_sd=np.repeat(event, len(walk)),
        log_weight=log_weight,
    )


def _log_normal_nodes(middle: float, spread_log: float, nodes: int, half_width_sd: float) -> tuple[Floats, Floats]:
    """Evenly spaced nodes in the log and their weights (density times step, normalised)."""
    z = np.linspace(-half_width_sd, half_width_sd, nodes) if nodes > 1 else np.zeros(1)
    weights = np.exp(-0.5 * z**2)
    return middle * np.exp(spread_log * z), weights / weights.sum()
