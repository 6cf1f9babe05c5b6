"""The second opinion: the levels by a plain regression on the rise seen, laid beside ours and in part into the answer.

Both see the same treatments but err differently, so their mean is better than either. Where they disagree, something is
wrong with one of them, and the interval widens.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.person import Person
from gramrise.estimate.levels import (
    BandLevels,
    Evidence,
    level_model,
    levels_at,
    seen_rise_evidence,
    smoothed_history,
    table_factor,
)
from gramrise.estimate.path import shipped_parameters
from gramrise.estimate.settings import EstimateSettings, SecondOpinionSettings

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SecondOpinion:
    """By band; log ratios to the starting table."""

    log_ratio: Floats  # [bands] by the regression
    part: Floats  # [bands] how far it counts in the answer, 0 where it could be formed of no treatment
    combined: Floats  # [bands] the answer
    disagreement_sd_log: Floats  # [bands] what their distance adds to the uncertainty

    def with_disagreement(self, sd_log: Floats) -> Floats:
        """[bands] systematic uncertainty of the answer: ours as far as ours counts, and their disagreement."""
        return np.hypot((1.0 - self.part) * sd_log, self.disagreement_sd_log)


def second_opinion(
    person: Person, used: pl.DataFrame, evidence: Evidence, levels: BandLevels, settings: EstimateSettings
) -> SecondOpinion:
    """The levels by the regression, in the week of ours, and both together.

    used, evidence  the pairings the levels are learned from, and what was measured of them, [treatments]
    levels          by the measured rises
    """
    exponent = shipped_parameters(settings.path).exponent
    seen, told = seen_rise_evidence(used, table_factor(person, used), evidence, exponent, settings)
    model = level_model(settings.levels)
    state = smoothed_history(seen, levels.mean.size, model).state
    week = levels.state.week
    theirs = levels_at(state, 0 if week is None else week, levels.state.delivery_changes, model)
    return weighed(levels.mean, theirs.mean, evidence.band, told, settings.second_opinion)


def weighed(
    ours: Floats, theirs: Floats, band: NDArray[np.int64], told: NDArray[np.bool_], settings: SecondOpinionSettings
) -> SecondOpinion:
    """Weigh the two: the regression counts by the share of a band's treatments that it used, less the further apart.

    ours, theirs  [bands] levels, log ratios to the starting table
    band, told    [treatments] number of the band, and whether the regression used it
    """
    everywhere = float(told.mean()) if told.size else 0.0
    share = np.array([told[band == b].mean() if (band == b).any() else everywhere for b in range(ours.size)])
    apart = theirs - ours
    part = settings.part * share / (1.0 + (apart / settings.halved_at_log_distance) ** 2)
    return SecondOpinion(theirs, part, ours + part * apart, settings.disagreement_part * share * np.abs(apart))
