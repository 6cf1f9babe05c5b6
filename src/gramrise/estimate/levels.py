"""The person's levels: theta[band, week] = log of the rise factor over the starting table's, learned in event order."""

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.posterior import LevelState, before_any_treatment, learned, mixed, moved_to
from gramrise.estimate.scatter import log_likelihood, scatter_mass
from gramrise.estimate.settings import LevelSettings
from gramrise.estimate.spreads import Spreads, grid_of_spreads

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

# Treatments whose likelihoods are tabulated at once: keeps the memory flat over long histories.
_AT_ONCE: Final = 256


@dataclass(frozen=True, slots=True)
class Evidence:
    """What used treatments say, in event order; arrays [treatments].

    ratio, ratio_sd   measured factor over the starting table's at that day's weight, and its noise (> 0)
    band              number of the band, 0..bands-1
    week              number of the week, whole weeks of local days since 1970-01-01
    delivery_changes  changes of insulin delivery before it
    """

    ratio: Floats
    ratio_sd: Floats
    band: Whole
    week: Whole
    delivery_changes: Whole

    def __len__(self) -> int:
        return len(self.ratio)

    def part(self, chosen: slice) -> "Evidence":
        return Evidence(
            self.ratio[chosen],
            self.ratio_sd[chosen],
            self.band[chosen],
            self.week[chosen],
            self.delivery_changes[chosen],
        )


@dataclass(frozen=True, slots=True)
class LevelModel:
    """The model with everything that does not depend on data worked out once."""

    settings: LevelSettings
    spreads: Spreads
    mass: Floats  # [scatters, AXIS, AXIS]
    scatter_of_node: Whole  # [nodes] which scatter a node has


@dataclass(frozen=True, slots=True)
class Foretold:
    """What was known of each treatment before it was learned from; arrays [treatments], log ratio to the table."""

    level: Floats
    level_sd: Floats
    event_sd: Floats


@dataclass(frozen=True, slots=True)
class Levels:
    """The levels of one person's bands now; log ratios to the starting table."""

    mean: Floats  # [bands]
    sd: Floats  # [bands], without the lasting doubt
    covariance: Floats  # [bands, bands]
    event_sd_log: float  # learned scatter of treatments
    state: LevelState


@cache
def level_model(settings: LevelSettings) -> LevelModel:
    spreads = grid_of_spreads(settings)
    scatters, scatter_of_node = np.unique(spreads.event_sd, return_inverse=True)
    return LevelModel(settings, spreads, scatter_mass(scatters, settings.event_degrees_of_freedom), scatter_of_node)


def learn(state: LevelState, evidence: Evidence, model: LevelModel) -> tuple[LevelState, Foretold]:
    """Learn treatments in their order; the state may come from earlier nights.

    returns  the state after the last one, and what was foretold of each before it was learned
    """
    level, level_sd, event_sd = (np.empty(len(evidence)) for _ in range(3))
    for begin in range(0, len(evidence), _AT_ONCE):
        part = evidence.part(slice(begin, begin + _AT_ONCE))
        tables = log_likelihood(part.ratio, part.ratio_sd, model.mass)
        for i in range(len(part)):
            state = at_week(state, int(part.week[i]), int(part.delivery_changes[i]), model)
            band, row = int(part.band[i]), begin + i
            level[row], level_sd[row], event_sd[row] = _foretold(state, band, model)
            state = learned(state, band, tables[i][model.scatter_of_node])
    return state, Foretold(level, level_sd, event_sd)


def levels_at(state: LevelState, week: int, delivery_changes: int, model: LevelModel) -> Levels:
    """The levels in a week, at or after the state's own."""
    later = at_week(state, week, delivery_changes, model)
    mean, covariance = mixed(later, model.spreads)
    weights = model.spreads.weights(later.log_evidence)
    return Levels(
        mean=mean,
        sd=np.sqrt(np.diag(covariance)),
        covariance=covariance,
        event_sd_log=float(weights @ model.spreads.event_sd),
        state=later,
    )


def at_week(state: LevelState, week: int, delivery_changes: int, model: LevelModel) -> LevelState:
    return moved_to(state, week, delivery_changes, model.spreads, model.settings.delivery_change_keeps)


def first_state(bands_n: int, model: LevelModel) -> LevelState:
    """Where every person starts: the starting table."""
    return before_any_treatment(model.spreads, bands_n)


def _foretold(state: LevelState, band: int, model: LevelModel) -> tuple[float, float, float]:
    weights = model.spreads.weights(state.log_evidence)
    mean = float(weights @ state.mean[:, band])
    variance = float(weights @ (state.covariance[:, band, band] + (state.mean[:, band] - mean) ** 2))
    return mean, variance**0.5, float(weights @ model.spreads.event_sd)
