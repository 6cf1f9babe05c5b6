"""A person's windows run through all candidates: what the treatments together say of each candidate."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.special import logsumexp

from gramrise.domain.reasons import Verdict
from gramrise.estimate.candidates import Scores, candidates_of, scores_of
from gramrise.estimate.censoring import Readings
from gramrise.estimate.filter_types import Array, Flags
from gramrise.estimate.model import Model
from gramrise.estimate.parameters import PathParameters
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.paths import readings_of
from gramrise.estimate.priors import shift_log_weights, table_prior
from gramrise.estimate.treatment import FactorLikelihood, factor_likelihood
from gramrise.estimate.windows import Windows


@dataclass(frozen=True, slots=True)
class Judged:
    """A person's windows and what they say of the candidates."""

    windows: Windows
    candidates: tuple[PathParameters, ...]
    readings: Readings
    scores: Scores
    used: Flags  # [B]

    @classmethod
    def of(
        cls, windows: Windows, screened: pl.DataFrame, settings: PathSettings, learned: PathParameters | None
    ) -> "Judged":
        model = Model.of(candidates_of(learned, settings))
        readings = readings_of(model, windows, settings)
        found = factor_likelihood(model, windows, settings, settings.score_shift_min, readings)
        density = window_density(found, windows, settings, settings.score_shift_min)
        scores = scores_of(density, found.log_height_before, settings)
        used = (screened["verdict"] == Verdict.USED).to_numpy()[windows.row]
        return cls(windows, model.candidates, readings, scores, used)

    def likely(self, settings: PathSettings) -> tuple[Model, Array]:
        """The candidates the person's used treatments leave standing, and their weights."""
        weights = self.scores.weights(self.used)
        kept = np.flatnonzero(weights >= min(settings.least_weight, float(weights.max())))
        return Model.of([self.candidates[int(k)] for k in kept]), weights[kept] / weights[kept].sum()


def window_density(found: FactorLikelihood, windows: Windows, settings: PathSettings, shifts: tuple[int, ...]) -> Array:
    """[K, B] log density of whole windows, the factor integrated over the table's prior and dose times over theirs."""
    _, _, by_shift = found.with_prior(*table_prior(windows))
    return np.asarray(logsumexp(by_shift + shift_log_weights(settings, shifts)[:, None, None], axis=0))
