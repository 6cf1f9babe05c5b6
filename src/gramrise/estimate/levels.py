"""The person's levels: theta[band, week] = log of the rise factor over the starting table's, learned in event order."""

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.posterior import Foretold, LevelState, before_any_treatment, learned, mixed, moved_to
from gramrise.estimate.scatter import log_likelihood, scatter_mass
from gramrise.estimate.settings import LevelSettings
from gramrise.estimate.spreads import Spreads, grid_of_spreads

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

# Treatments whose likelihoods are tabulated at once: keeps the memory flat over long histories.
_AT_ONCE: Final = 256
FORETOLD_COLUMNS: Final = tuple(Foretold.__dataclass_fields__)


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
    raises   ValueError when a treatment lies in an earlier week than what was learned before it
    """
    if np.any(np.diff(evidence.week, prepend=evidence.week[:1] if state.week is None else state.week) < 0):
        raise ValueError("treatments must be learned in event order")
    told = []
    for begin in range(0, len(evidence), _AT_ONCE):
        part = evidence.part(slice(begin, begin + _AT_ONCE))
        tables = log_likelihood(part.ratio, part.ratio_sd, model.mass)
        keeps = model.settings.delivery_change_keeps
        state, foretold = learned(
            state, model.spreads, keeps, tables, model.scatter_of_node, part.band, part.week, part.delivery_changes
        )
        told.append(foretold)
    return state, Foretold(
        *(np.concatenate([getattr(part, name) for part in told] or [np.empty(0)]) for name in FORETOLD_COLUMNS)
    )


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
