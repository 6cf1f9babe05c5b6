"""What a person's treatments together say of the candidates, and which stood best at each treatment."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from gramrise.estimate.array_types import Array, Flags, Whole
from gramrise.estimate.path.candidates import CandidateScores, candidate_scores
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.treatment.likelihood import FactorLikelihood
from gramrise.estimate.treatment.priors import HasBodyWeights, shift_log_weights, table_prior


@dataclass(frozen=True, slots=True)
class CandidatePosterior:
    """Scores of B treatments in order of time; those not measured score nothing."""

    scores: CandidateScores
    used: Flags  # [B] measured, and not set aside
    log_prior: Array  # [K] of the candidates, before anything is known of the person
    untreated_log_weights: Array  # [K] what untreated stretches say of them, log weights

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
        density, before = (
            np.where(teaches[:, None], records[name], 0.0).T for name in ("log_density", "log_height_before")
        )
        return cls(candidate_scores(density, before, settings), teaches, log_prior, untreated_log_weights)

    def weights(self) -> Array:
        """[K] weights of the candidates given all used treatments and untreated stretches."""
        return self.scores.weights(self.used, self.log_prior + self.untreated_log_weights)

    def likely(self, settings: PathSettings) -> tuple[Whole, Array]:
        """The candidates the used treatments leave standing, and their weights."""
        weights = self.weights()
        kept: Whole = np.flatnonzero(weights >= min(settings.least_weight, float(weights.max())))
        return kept, weights[kept] / weights[kept].sum()

    def best_before(self) -> Whole:
        """[B] the candidate that the used treatments before each one favour."""
        known = self._known()
        return np.asarray(np.concatenate([self.log_prior[:, None], known], axis=1)[:, :-1].argmax(axis=0))

    def best_with(self) -> Whole:
        """[B] the candidate that the used treatments up to each one, itself among them, favour."""
        return np.asarray(self._known().argmax(axis=0))

    def _known(self) -> Array:
        """[K, B] log weights once each treatment has been learned; stretches are not asked, they may come later."""
        gained = np.where(self.used, self.scores.log_scores, 0.0)
        return np.asarray(self.log_prior[:, None] + self.scores.power * np.cumsum(gained, axis=1))


def window_density(
    found: FactorLikelihood, windows: HasBodyWeights, settings: PathSettings, shifts: tuple[int, ...]
) -> Array:
    """[K, B] log density of whole windows, the factor integrated over the table's prior and dose times over theirs."""
    _, _, by_shift = found.with_prior(*table_prior(windows))
    return np.asarray(logsumexp(by_shift + shift_log_weights(settings, shifts)[:, None, None], axis=0))
