"""The chains of a person's bands: they share the scatter of treatments, and often move on the same day.

A jump of all bands at once is looked for by handing from band to band how much better a jump into each week explains
the others. It counts each week's gain against that of all weeks together, so that one jump is believed once.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.array_types import Array, Flags
from gramrise.estimate.drift.level_axis import DriftModel
from gramrise.estimate.drift.week_chain import Chain, WeekLikelihood, chain_of, level_at_reference

WEEKS_IN_A_YEAR = 365.25 / 7
# Our choice: scatters of less weight are left out; together they hold less than a twentieth.
LEAST_WEIGHT = 0.02
MOST_HAZARD = 0.9


@dataclass(frozen=True, slots=True)
class BandChain:
    """One band's chain after the others were heard; arrays over the scatters that count."""

    weeks: WeekLikelihood
    chain: Chain
    hazard: Array  # [weeks]
    level: Array  # [scatters, cells] at the reference, where few jumps are expected before it
    scatter_weight: Array  # [scatters], sums to 1


def chains_of(bands: Sequence[WeekLikelihood], changed: Flags, model: DriftModel) -> list[BandChain]:
    """The chain of each band; all begin with the same week.

    changed  [weeks] whether insulin delivery or a source's strength changed in a week
    """
    own, shared = expected_jumps(changed, model)
    # A change since the reference is held against a level that seldom jumped before it: were jumps expected there as
    # often, the level would be known so much less that a seventh of the steps would be missed.
    rules = model.settings
    seldom = np.where(changed, rules.jump_probability_at_a_change, rules.jumps_per_year_before / WEEKS_IN_A_YEAR)
    alone = [chain_of(band, own + shared, model) for band in bands]
    kept, weight = _scatters_that_count(alone, model)
    gains = [_gain_of_each_week(chain, kept, weight, own + shared) for chain in alone]
    found = []
    for n, band in enumerate(bands):
        others = np.prod([gain for m, gain in enumerate(gains) if m != n], axis=0) if len(bands) > 1 else 1.0
        hazard = np.minimum(own + shared * others, MOST_HAZARD)
        part = WeekLikelihood(band.first_week, band.likelihood[kept], band.log_scale[kept])
        level = level_at_reference(part, seldom, model)
        found.append(BandChain(part, chain_of(part, hazard, model), hazard, level, weight))
    return found


def expected_jumps(changed: Flags, model: DriftModel) -> Array:
    """Probability beforehand of a jump into each week, of one band alone and of all together, [2, weeks]."""
    rules = model.settings
    rates = np.array([rules.jumps_per_year_of_a_band, rules.jumps_per_year_of_a_person]) / WEEKS_IN_A_YEAR
    return np.asarray(np.where(changed[None, :], rules.jump_probability_at_a_change / 2.0, rates[:, None]))


def _scatters_that_count(chains: Sequence[Chain], model: DriftModel) -> tuple[NDArray[np.intp], Array]:
    """Indices of the scatters, and their weights given the treatments of all bands."""
    raised = model.scatter_log_weight + sum(chain.log_evidence for chain in chains)
    weight = np.exp(raised - raised.max())
    weight /= weight.sum()
    kept = np.flatnonzero(weight >= LEAST_WEIGHT)
    return kept, weight[kept] / weight[kept].sum()


def _gain_of_each_week(chain: Chain, kept: NDArray[np.intp], weight: Array, hazard: Array) -> Array:
    """How much more probable this band makes a jump into each week, [weeks]; at most one jump is counted on."""
    odds = weight @ chain.jump_odds[kept]
    return np.asarray(odds / max(1.0 + float(hazard[1:] @ (odds[1:] - 1.0)), 1e-9))
