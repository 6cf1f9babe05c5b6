"""Model averaging: the factor of each treatment, averaged over the posterior over candidates."""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import polars as pl

from gramrise.domain.pictures import Drawn
from gramrise.domain.reasons import Verdict
from gramrise.domain.starting import REFERENCE_GRAMS_PER_KG
from gramrise.estimate.array_types import Array, Flags, Whole, log_sum_exp
from gramrise.estimate.path import WEIGHT_UNKNOWN_KG, PathParameters
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.treatment.candidate_posterior import CandidatePosterior
from gramrise.estimate.treatment.likelihood import FactorLikelihood, over_shifts
from gramrise.estimate.treatment.measurement import MeasurementSetup, Records, likelihood_of
from gramrise.estimate.treatment.pictures import BodyWeights
from gramrise.estimate.treatment.placebo import PathOffset
from gramrise.estimate.treatment.priors import levelled_prior, shift_log_weights, table_prior

# Level and weights are found from each other; after two steps they have settled (our choice).
_LEVEL_STEPS: Final = 2
MEASURED_SCHEMA: Final = {
    "person_id": pl.String(),
    "first_dose_utc": pl.Datetime("us", "UTC"),
    "verdict": pl.String(),
    "factor_hat_mg_dl_per_g": pl.Float64(),
    "factor_var": pl.Float64(),
    "start_estimated_mg_dl": pl.Float64(),
    "rise_estimated_mg_dl": pl.Float64(),
}


@dataclass(frozen=True, slots=True)
class AveragedMeasurements:
    """Treatments measured, one row each where readings suffice, set-aside ones too (for drawing; marked by verdict).

    frame columns: person_id, first_dose_utc, verdict; factor_hat_mg_dl_per_g and factor_var, the Gaussian likelihood
    of the factor at the reference amount under a flat prior, the candidates averaged; start_estimated_mg_dl and
    rise_estimated_mg_dl, peak of the estimated rise of all doses, both as drawn.
    """

    frame: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=MEASURED_SCHEMA))
    candidates: tuple[PathParameters, ...] = ()  # those with a posterior weight worth keeping
    weights: Array = field(default_factory=lambda: np.ones(1))  # posterior of the candidates
    factors: Array = field(default_factory=lambda: np.zeros((1, 0)))  # [K, rows of frame] by candidate, mg/dL per g
    offset_sd_mg_dl: float = 0.0  # of what the path may be off by in every rise of the person, the placebo known


def weights_of(screened: pl.DataFrame) -> BodyWeights:
    """[B] body weights, nan where unknown or not given."""
    known = "weight_kg" in screened.columns
    weight = screened["weight_kg"].cast(pl.Float64).to_numpy() if known else np.full(screened.height, np.nan)
    return BodyWeights(weight)


def candidate_posterior_of(
    records: Records, screened: pl.DataFrame, setup: MeasurementSetup, untreated: Array
) -> CandidatePosterior:
    return CandidatePosterior.of(
        records, (screened["verdict"] == Verdict.USED).to_numpy(), setup.log_prior, untreated, setup.settings
    )


def average_over_candidates(
    records: Records,
    posterior: CandidatePosterior,
    weights: BodyWeights,
    screened: pl.DataFrame,
    setup: MeasurementSetup,
    drawn: list[Drawn] | None,
    offset: PathOffset | None = None,
) -> AveragedMeasurements:
    """Average the records of a person's treatments over the candidates' posterior weights.

    drawn    pictures of those measured, where the frame shall hold what they show
    offset   what comes off every rise, from untreated stretches; None: nothing
    """
    rows = np.flatnonzero(records["measured"])
    if not rows.size:
        return AveragedMeasurements()
    part, mine = records[rows], BodyWeights(weights.weight_kg[rows])
    posterior = _at_own_level(part, mine, posterior, rows, setup.settings)
    kept, shares = posterior.likely(setup.settings)
    found = likelihood_of(part, kept)
    factor, variance = _factors(found, mine, posterior.used[rows], shares, setup.settings)
    offset_sd = 0.0
    if offset is not None:
        at_work = _grams_at_work(screened["grams"].cast(pl.Float64).to_numpy()[rows], mine, setup)
        factor = factor - np.nan_to_num(offset.rise_mg_dl[kept][:, None] / at_work)
        offset_sd = float(shares @ offset.sd_mg_dl[kept])
    chosen = screened.select("person_id", "first_dose_utc", "verdict")[rows]
    frame = chosen.with_columns(
        factor_hat_mg_dl_per_g=pl.Series(shares @ factor),
        factor_var=pl.Series(shares @ variance),
        start_estimated_mg_dl=_shown("start_mg_dl", rows.size, drawn),
        rise_estimated_mg_dl=_shown("rise_mg_dl", rows.size, drawn),
    )
    likely = tuple(setup.model.candidates[int(k)] for k in kept)
    return AveragedMeasurements(frame, likely, shares, factor, offset_sd)


def _grams_at_work(grams: Array, weights: BodyWeights, setup: MeasurementSetup) -> Array:
    """[B] grams of a treatment as they count at the reference amount's factor; nan where unknown."""
    weight = np.where(np.isnan(weights.weight_kg), WEIGHT_UNKNOWN_KG, weights.weight_kg)
    exponent = setup.model.candidates[0].exponent  # all candidates of a grid share it
    return np.asarray(grams * (grams / (REFERENCE_GRAMS_PER_KG * weight)) ** (exponent - 1.0))


def _at_own_level(
    part: Records, weights: BodyWeights, posterior: CandidatePosterior, rows: Whole, settings: PathSettings
) -> CandidatePosterior:
    """The posterior over candidates scored anew, the factors' prior moved from the table to the person's own level.

    Scored under the table, which lies a quarter above what trials support, candidates that find large factors would be
    favoured. Only the answer asks this: pictures and forecasts know no later treatment.
    """
    found, shifts, used = likelihood_of(part), shift_log_weights(settings), posterior.used[rows]
    mean, prior = table_prior(weights)
    factor, variance = over_shifts(found, shifts, mean, prior)
    for _ in range(_LEVEL_STEPS):
        shares = posterior.weights()
        own = levelled_prior(weights, shares @ factor, shares @ variance, used)
        density = np.where(used, log_sum_exp(found.with_prior(*own)[2] + shifts[:, None, None], axis=0), 0.0)
        before = np.where(used, found.log_height_before, 0.0)
        posterior = posterior.rescored(density, before, rows, settings)
    return posterior


def _shown(name: str, rows_n: int, drawn: list[Drawn] | None) -> pl.Series:
    """A number off each picture; null where nothing was drawn."""
    values = [None] * rows_n if drawn is None else [getattr(each, name) for each in drawn]
    return pl.Series(values, dtype=pl.Float64)


def _factors(
    found: FactorLikelihood, weights: BodyWeights, used: Flags, shares: Array, settings: PathSettings
) -> tuple[Array, Array]:
    """[K, B] factor and variance by candidate, dose times mixed under a prior at the person's level.

    shares  [K] weights of the candidates. Which candidate is right is one question for all windows, so a window's
            variance holds none of it; `answer.candidate_uncertainty` does
    """
    mean, prior = table_prior(weights)
    shifts = shift_log_weights(settings)
    factor, variance = over_shifts(found, shifts, mean, prior)
    mean, prior = levelled_prior(weights, shares @ factor, shares @ variance, used)
    return over_shifts(found, shifts, mean, prior)
