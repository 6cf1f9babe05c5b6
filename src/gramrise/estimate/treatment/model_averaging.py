"""Measuring treatments: from readings and doses to each treatment's own factor, its picture and its doubt."""

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Final

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import LOWS, PATHS
from gramrise.domain.pictures import Drawn, paths_of
from gramrise.domain.reasons import Verdict
from gramrise.estimate.array_types import Array, Flags
from gramrise.estimate.path import PathParameters
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.treatment.candidate_posterior import CandidatePosterior
from gramrise.estimate.treatment.likelihood import FactorLikelihood, over_shifts
from gramrise.estimate.treatment.measurement import MeasurementSetup, Records, likelihood_of, measure_each
from gramrise.estimate.treatment.pictures import BodyWeights, draw, drawing_of
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
    records, _ = measure_each(inputs, screened, setup)
    weights = weights_of(screened)
    untreated = untreated_log_weights(inputs, LOWS.empty(), _last(inputs), setup)
    judged = candidate_posterior_of(records, screened, setup, untreated)
    drawing = drawing_of(records, judged, weights, setup)
    drawn = draw(inputs, screened[drawing.rows], drawing, setup) if with_paths else None
    measured = average_over_candidates(records, judged, weights, screened, setup, drawn)
    firsts = screened["first_dose_utc"].dt.epoch("us").to_numpy()[drawing.rows].tolist()
    packed = [each.packed() for each in drawn or ()]
    return replace(measured, paths=paths_of(inputs.person.person_id, zip(firsts, packed, strict=with_paths)))


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
    records: Records,
    judged: CandidatePosterior,
    weights: BodyWeights,
    screened: pl.DataFrame,
    setup: MeasurementSetup,
    drawn: list[Drawn] | None,
) -> AveragedMeasurements:
    """What treatments' records say when the person's treatments are taken together; paths are left out.

    drawn   pictures of those measured, where the frame shall hold what they show
    """
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
        start_estimated_mg_dl=_shown("start_mg_dl", rows.size, drawn),
        rise_estimated_mg_dl=_shown("rise_mg_dl", rows.size, drawn),
    )
    standing = tuple(setup.model.candidates[int(k)] for k in kept)
    return AveragedMeasurements(frame, PATHS.empty(), standing, shares, factor)


def _shown(name: str, rows_n: int, drawn: list[Drawn] | None) -> pl.Series:
    """A number off each picture; null where nothing was drawn."""
    values = [None] * rows_n if drawn is None else [getattr(each, name) for each in drawn]
    return pl.Series(values, dtype=pl.Float64)


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
