"""Measuring treatments: from readings and doses to each treatment's own factor, its path and its doubt."""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import PATHS
from gramrise.estimate.filter_types import Array
from gramrise.estimate.foresee import Foreseen, predict
from gramrise.estimate.judged import Judged, window_density
from gramrise.estimate.model import Model, response
from gramrise.estimate.parameters import PathParameters
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.paths import path_rows, start_levels
from gramrise.estimate.priors import levelled_prior, shift_log_weights, table_prior
from gramrise.estimate.treatment import FactorLikelihood, factor_likelihood, mixed
from gramrise.estimate.windows import Windows, laid_out, measurable

__all__ = ["Foreseen", "Measured", "measure", "predict"]

MEASURED_SCHEMA: Final = {
    "person_id": pl.String(),
    "first_dose_utc": pl.Datetime("us", "UTC"),
    "verdict": pl.String(),
    "factor_hat_mg_dl_per_g": pl.Float64(),
    "factor_var": pl.Float64(),
    "start_estimated_mg_dl": pl.Float64(),
    "rise_estimated_mg_dl": pl.Float64(),
    "log_likelihood": pl.Float64(),
}


@dataclass(frozen=True, slots=True)
class Measured:
    """Treatments measured, one row each where readings suffice, set-aside ones too (for drawing; marked by verdict).

    frame columns: person_id, first_dose_utc, verdict; factor_hat_mg_dl_per_g and factor_var, the Gaussian likelihood
    of the factor at the reference amount under a flat prior; start_estimated_mg_dl; rise_estimated_mg_dl, peak of the
    estimated rise of all doses; log_likelihood of the window's readings, everything else integrated out.
    """

    frame: pl.DataFrame
    paths: pl.DataFrame
    log_likelihood: float
    candidates: tuple[PathParameters, ...] = ()
    weights: Array = field(default_factory=lambda: np.ones(1))  # of the candidates, from this person's treatments


def measure(
    inputs: Inputs,
    screened: pl.DataFrame,
    settings: PathSettings,
    learned: PathParameters | None = None,
    with_paths: bool = True,
) -> Measured:
    """Measure every treatment of one person whose readings suffice.

    screened  SCREENED of one person; a column weight_kg f64 beside it where the weight is known
    learned   parameters from `learn`; None: the shipped ones
    """
    windows = laid_out(inputs, screened, settings)
    windows = windows.chosen(measurable(windows, settings) & (windows.grams > 0))
    if not windows.row.size:
        return Measured(pl.DataFrame(schema=MEASURED_SCHEMA), PATHS.empty(), 0.0)
    judged = Judged.of(windows, screened, settings, learned)
    model, weights = judged.likely(settings)
    found = factor_likelihood(model, windows, settings, settings.dose_shift_min, judged.readings)
    factor, variance, mean, prior = _factors(found, judged, weights, settings)
    # What a picture shows is drawn to the person's level: a single treatment's own number can be wild.
    precision = 1 / variance + 1 / prior
    drawn, drawn_variance = (factor / variance + mean / prior) / precision, 1 / precision
    best = Model.of([model.candidates[int(np.argmax(weights))]])
    rows = screened[windows.row]
    density = np.asarray(weights @ window_density(found, windows, settings, settings.dose_shift_min))
    frame = pl.DataFrame(
        {
            "person_id": rows["person_id"],
            "first_dose_utc": rows["first_dose_utc"],
            "verdict": rows["verdict"],
            "factor_hat_mg_dl_per_g": factor,
            "factor_var": variance,
            "start_estimated_mg_dl": start_levels(best, windows, settings, judged.readings, drawn),
            "rise_estimated_mg_dl": drawn * _peak_response(best, windows),
            "log_likelihood": density,
        },
        schema=MEASURED_SCHEMA,
    )
    paths = PATHS.empty()
    if with_paths:
        paths = path_rows(best, windows, settings, judged.readings, rows, drawn, drawn_variance)
    return Measured(frame, paths, float(density[judged.used].sum()), model.candidates, weights)


def _factors(
    found: FactorLikelihood, judged: Judged, weights: Array, settings: PathSettings
) -> tuple[Array, Array, Array, Array]:
    """Each window's factor and variance, and the prior (mean, variance) it was mixed under: the person's own level."""
    mean, prior = table_prior(judged.windows)
    shifts = shift_log_weights(settings)
    factor, variance = mixed(found, shifts, weights, mean, prior)
    mean, prior = levelled_prior(judged.windows, factor, variance, judged.used)
    factor, variance = mixed(found, shifts, weights, mean, prior)
    return factor, variance, mean, prior


def _peak_response(model: Model, windows: Windows) -> Array:
    """[B] peak of the response of all doses per unit of factor."""
    last = int((windows.dose_minutes.max(initial=0)) + 120)
    minutes = np.broadcast_to(np.arange(0, last, 5), (windows.row.size, len(range(0, last, 5))))
    return np.asarray(response(model, windows, minutes)[0].max(axis=1))
