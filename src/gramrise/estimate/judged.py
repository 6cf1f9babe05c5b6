"""A person's windows run through all candidates: likelihoods of the factor, and what they say of each."""

from dataclasses import dataclass

import polars as pl
from scipy.special import logsumexp

from gramrise.domain.reasons import Verdict
from gramrise.estimate.candidates import Scores, candidates_of, scores_of
from gramrise.estimate.censoring import Readings
from gramrise.estimate.filter import Array, Flags
from gramrise.estimate.model import Model
from gramrise.estimate.parameters import PathParameters
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.paths import readings_of
from gramrise.estimate.priors import shift_log_weights, table_prior
from gramrise.estimate.treatment import FactorLikelihood, factor_likelihood
from gramrise.estimate.windows import Windows


@dataclass(frozen=True, slots=True)
class Judged:
    """A person's windows run through all candidates."""

    windows: Windows
    model: Model
    readings: Readings
    found: FactorLikelihood
    density: Array  # [K, B] log density of whole windows, factor and shift integrated out
    scores: Scores
    used: Flags  # [B]

    @classmethod
    def of(
        cls, windows: Windows, screened: pl.DataFrame, settings: PathSettings, learned: PathParameters | None
    ) -> "Judged":
        model = Model.of(list(candidates_of(learned, settings)))
        readings = readings_of(model, windows, settings)
        found = factor_likelihood(model, windows, settings, settings.dose_shift_min, readings)
        _, _, by_shift = found.with_prior(*table_prior(windows))
        density = logsumexp(by_shift + shift_log_weights(settings)[:, None, None], axis=0)
        used = (screened["verdict"] == Verdict.USED).to_numpy()[windows.row]
        return cls(
            windows, model, readings, found, density, scores_of(density, model, windows, settings, readings), used
        )
