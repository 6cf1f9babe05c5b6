"""The posterior over candidates, given a person's treatments, and the best candidate at each treatment.

It is tempered. A treatment counts by the density of its readings after the glucose given those before, because
treatments are chosen for having fallen. It can speak against a candidate only so far, so that one meal nobody logged
decides nothing. And of the summed log density of n treatments only power / (1 + n / half_n) counts: no candidate is
right and all treatments of one person err alike, so evidence that grows without limit would be too sure of one.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.array_types import Array, Flags, Whole, log_sum_exp
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.treatment.likelihood import FactorLikelihood
from gramrise.estimate.treatment.priors import HasBodyWeights, shift_log_weights, table_prior


@dataclass(frozen=True, slots=True)
class CandidateScores:
    """The tempered likelihood: log density of each treatment relative to its best candidate, bounded below; [K, B]."""

    log_scores: Array
    power: float  # tempering: the part of a first score that counts
    half_n: float  # so many treatments count half as much each as a first one

    def counted(self, summed: Array, treatments_n: Array | int) -> Array:
        """What the summed scores of so many treatments count."""
        return np.asarray(self.power * summed / (1.0 + treatments_n / self.half_n))

    def weights(self, used: Flags, log_prior: Array) -> Array:
        """[K] posterior weights given the used treatments; `log_prior` [K] are the log weights before them."""
        total = log_prior + self.counted(self.log_scores[:, used].sum(axis=1), int(used.sum()))
        return np.asarray(np.exp(total - log_sum_exp(total)))


def candidate_scores(density: Array, before: Array, settings: PathSettings) -> CandidateScores:
    """Scores from the log density [K, B] of whole windows, and of their readings up to the first dose."""
    given = density - before
    scores = np.maximum(given - given.max(axis=0), -settings.most_against)
    return CandidateScores(scores, settings.evidence_power, settings.evidence_half_n)


@dataclass(frozen=True, slots=True)
class CandidatePosterior:
    """Scores of B treatments in order of time; a treatment that is not measured scores nothing."""

    scores: CandidateScores
    used: Flags  # [B] measured, and not set aside
    log_prior: Array  # [K] of the candidates
    untreated_log_weights: Array  # [K] from untreated stretches

    @classmethod
    def of(
        cls,
        records: NDArray[np.void],
        used: Flags,
        log_prior: Array,
        untreated_log_weights: Array,
        settings: PathSettings,
    ) -> "CandidatePosterior":
        """records as `measurement.measure_each` makes them, [B]."""
        teaches: Flags = used & records["measured"]
        density = np.where(teaches[:, None], records["log_density"], 0.0).T
        before = np.where(teaches[:, None], records["log_height_before"], 0.0).T
        return cls(candidate_scores(density, before, settings), teaches, log_prior, untreated_log_weights)

    def rescored(self, density: Array, before: Array, rows: Whole, settings: PathSettings) -> "CandidatePosterior":
        """The same with the scores of some rows from other log densities, [K, rows]."""
        scores = np.zeros_like(self.scores.log_scores)
        scores[:, rows] = candidate_scores(density, before, settings).log_scores
        return replace(self, scores=replace(self.scores, log_scores=scores))

    def weights(self) -> Array:
        """[K] weights of the candidates given all used treatments and untreated stretches."""
        return self.scores.weights(self.used, self.log_prior + self.untreated_log_weights)

    def likely(self, settings: PathSettings) -> tuple[Whole, Array]:
        """The candidates with a posterior weight worth keeping, and those weights."""
        weights = self.weights()
        kept: Whole = np.flatnonzero(weights >= min(settings.least_weight, float(weights.max())))
        return kept, weights[kept] / weights[kept].sum()

    def best_before(self) -> Whole:
        """[B] the best candidate given the used treatments before each one."""
        known = self._known()
        return np.asarray(np.concatenate([self.log_prior[:, None], known], axis=1)[:, :-1].argmax(axis=0))

    def best_with(self) -> Whole:
        """[B] the best candidate given the used treatments up to and with each one."""
        return np.asarray(self._known().argmax(axis=0))

    def _known(self) -> Array:
        """[K, B] log weights after each treatment. Untreated stretches are left out, as they may lie later."""
        gained = np.where(self.used, self.scores.log_scores, 0.0)
        counted = self.scores.counted(np.cumsum(gained, axis=1), np.cumsum(self.used))
        return np.asarray(self.log_prior[:, None] + counted)


def window_density(
    found: FactorLikelihood, windows: HasBodyWeights, settings: PathSettings, shifts: tuple[int, ...]
) -> Array:
    """[K, B] log density of whole windows, with factor and dose time integrated over their priors."""
    _, _, by_shift = found.with_prior(*table_prior(windows))
    return np.asarray(log_sum_exp(by_shift + shift_log_weights(settings, shifts)[:, None, None], axis=0))
