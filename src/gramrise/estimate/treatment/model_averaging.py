"""Measuring treatments: from readings and doses to each treatment's own factor, its picture and its doubt."""

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Final

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import LOWS, PATHS
from gramrise.domain.kept import paths_of
from gramrise.domain.reasons import Verdict
from gramrise.estimate.array_types import Array, Flags
from gramrise.estimate.path.parameters import PathParameters
from gramrise.estimate.path.windows import minutes_of
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.settings import PredictionSettings
from gramrise.estimate.treatment.candidate_posterior import CandidatePosterior
from gramrise.estimate.treatment.likelihood import FactorLikelihood, over_shifts
from gramrise.estimate.treatment.measurement import MeasurementSetup, Records, likelihood_of, measure_each
from gramrise.estimate.treatment.measurement_cache import Standing
from gramrise.estimate.treatment.pictures import BodyWeights, draw_pictures
from gramrise.estimate.treatment.prediction_check import seen_readings
from gramrise.estimate.treatment.priors import levelled_prior, shift_log_weights, table_prior
from gramrise.estimate.treatment.untreated_evidence import untreated_log_weights

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
    paths: pl.DataFrame = field(default_factory=PATHS.empty)
    candidates: tuple[PathParameters, ...] = ()  # those that stand
    weights: Array = field(default_factory=lambda: np.ones(1))  # of the candidates, from this person's treatments
    factors: Array = field(default_factory=lambda: np.zeros((1, 0)))  # [K, rows of frame] to each, mg/dL per g


def measure(
    inputs: Inputs,
    screened: pl.DataFrame,
    settings: PathSettings,
    learned: PathParameters | None = None,
    with_paths: bool = True,
) -> AveragedMeasurements:
    """Measure every treatment of one person whose readings suffice.

    screened  SCREENED of one person in order of time; a column weight_kg f64 beside it where the weight is known
    learned   parameters from `learn`; None: the shipped ones
    """
    setup = MeasurementSetup.of(settings, learned)
    records, windows = measure_each(inputs, screened, setup)
    weights = weights_of(screened)
    judged = candidate_posterior_of(
        records, screened, setup, untreated_log_weights(inputs, LOWS.empty(), _last(inputs), setup)
    )
    pictures = draw_pictures(records, judged, weights, windows, 0, setup, with_paths)
    measured = average_over_candidates(records, judged, weights, screened, setup)
    firsts = screened["first_dose_utc"].dt.epoch("us").to_list()
    return replace(measured, paths=paths_of(inputs.person.person_id, zip(firsts, pictures, strict=True)))


def measured_from(
    stands: Standing, inputs: Inputs, lows: pl.DataFrame, as_of_utc: datetime
) -> tuple[Records, CandidatePosterior, list[bytes]]:
    """Records of all treatments, measured where they do not stand; what they say of candidates; the new pictures."""
    begin, setup = stands.stand_n, stands.setup
    anew = stands.judged[begin:]
    measured, windows = measure_each(inputs, anew, setup)
    measured["seen"] = _seen(inputs, anew, setup, stands.settings.prediction)
    records = np.concatenate([stands.records, measured])
    judged = candidate_posterior_of(
        records, stands.judged, setup, untreated_log_weights(inputs, lows, as_of_utc, setup)
    )
    return records, judged, draw_pictures(records, judged, stands.weights, windows, begin, setup, with_paths=True)


def _seen(inputs: Inputs, screened: pl.DataFrame, setup: MeasurementSetup, settings: PredictionSettings) -> Array:
    """[B, A] the reading at each minute that is foretold, nan where none is near."""
    asked = minutes_of(screened["first_dose_utc"])[:, None] + np.array(setup.minutes)
    return seen_readings(asked, inputs.readings, settings)


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


def _last(inputs: Inputs) -> datetime:
    """The last reading's instant; where there is none, any will do."""
    last = inputs.readings["at_utc"].max()
    return last if isinstance(last, datetime) else datetime(1970, 1, 1, tzinfo=UTC)


def average_over_candidates(
    records: Records, judged: CandidatePosterior, weights: BodyWeights, screened: pl.DataFrame, setup: MeasurementSetup
) -> AveragedMeasurements:
    """What treatments' records say when the person's treatments are taken together; paths are left out."""
    rows = np.flatnonzero(records["measured"])
    if not rows.size:
        return AveragedMeasurements()
    kept, shares = judged.likely(setup.settings)
    part, mine = records[rows], BodyWeights(weights.weight_kg[rows])
    found = likelihood_of(part, kept)
    factor, variance = _factors(found, mine, judged.used[rows], shares, setup.settings)
    chosen = screened.select("person_id", "first_dose_utc", "verdict")[rows]
    frame = chosen.with_columns(
        factor_hat_mg_dl_per_g=pl.Series(shares @ factor),
        factor_var=pl.Series(shares @ variance),
        start_estimated_mg_dl=pl.Series(part["start"].astype(float)),
        rise_estimated_mg_dl=pl.Series(part["rise"].astype(float)),
    )
    standing = tuple(setup.model.candidates[int(k)] for k in kept)
    return AveragedMeasurements(frame, PATHS.empty(), standing, shares, factor)


def _factors(
    found: FactorLikelihood, weights: BodyWeights, used: Flags, shares: Array, settings: PathSettings
) -> tuple[Array, Array]:
    """[K, B] each window's factor and variance to each candidate, dose times mixed under a prior at the person's level.

    shares  [K] of the candidates: which of them is right is one question for all windows, so they are not mixed here
    """
    mean, prior = table_prior(weights)
    shifts = shift_log_weights(settings)
    factor, variance = over_shifts(found, shifts, mean, prior)
    mean, prior = levelled_prior(weights, shares @ factor, shares @ variance, used)
    return over_shifts(found, shifts, mean, prior)
