"""Measuring treatments: from readings and doses to each treatment's own factor, its path and its doubt."""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import polars as pl
from scipy.special import logsumexp

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import PATHS
from gramrise.estimate.candidates import candidates_of
from gramrise.estimate.censoring import Readings
from gramrise.estimate.filter import Array, Flags
from gramrise.estimate.model import Model, response
from gramrise.estimate.parameters import PathParameters
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.paths import path_rows, readings_of, start_levels, untreated_at
from gramrise.estimate.priors import shift_log_weights, table_prior
from gramrise.estimate.treatment import FactorLikelihood, factor_likelihood
from gramrise.estimate.windows import Windows, laid_out, measurable

# A window's own likelihood is never told wider than this many prior standard deviations: beyond it says nothing.
WIDEST: Final = 30.0
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
    candidate_weights: Array = field(default_factory=lambda: np.ones(1))


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
    chosen = candidates_of(learned, settings)
    model = Model.of(list(chosen.parameters))
    readings = readings_of(model, windows, settings)
    shifts = settings.dose_shift_min
    found = factor_likelihood(model, windows, settings, shifts, readings)
    used = (screened["verdict"] == "used").to_numpy()[windows.row]
    weights = candidate_weights(found, windows, settings, chosen.log_weights, used)
    factor, variance, density = mixed(found, windows, settings, weights)
    best = Model.of([chosen.parameters[int(np.argmax(weights))]])
    shrunk = _shrunk(factor, variance, windows)
    rise = shrunk * _peak_response(best, windows)
    rows = screened[windows.row]
    frame = pl.DataFrame(
        {
            "person_id": rows["person_id"],
            "first_dose_utc": rows["first_dose_utc"],
            "verdict": rows["verdict"],
            "factor_hat_mg_dl_per_g": factor,
            "factor_var": variance,
            "start_estimated_mg_dl": start_levels(best, windows, settings, readings, shrunk),
            "rise_estimated_mg_dl": rise,
            "log_likelihood": density,
        },
        schema=MEASURED_SCHEMA,
    )
    paths = path_rows(best, windows, settings, readings, rows, factor, variance) if with_paths else PATHS.empty()
    return Measured(frame, paths, float(density[used].sum()), weights)


def candidate_weights(
    found: FactorLikelihood, windows: Windows, settings: PathSettings, log_prior: Array, used: Flags
) -> Array:
    """[K] weights of the candidates given all used treatments of the person."""
    _, _, density = found.with_prior(*table_prior(windows))
    per_window = logsumexp(density + shift_log_weights(settings)[:, None, None], axis=0)
    total = log_prior + per_window[:, used].sum(axis=1)
    return np.asarray(np.exp(total - logsumexp(total)))


def mixed(
    found: FactorLikelihood, windows: Windows, settings: PathSettings, weights: Array
) -> tuple[Array, Array, Array]:
    """One Gaussian likelihood a window out of candidates and dose-time shifts: factor, variance, log density.

    The posterior under the table's prior is a mixture; its first two moments, the prior divided out again, are the
    likelihood handed on. What the mixture does not narrow is told as very wide.
    """
    mean, variance = table_prior(windows)
    centre, spread, density = found.with_prior(mean, variance)
    logs = density + shift_log_weights(settings)[:, None, None] + np.log(np.maximum(weights, 1e-300))[None, :, None]
    total = logsumexp(logs, axis=(0, 1))
    # Within the person the candidates weigh as `weights`, not anew in each window; shifts weigh by the window.
    by_shift = np.exp(logs - logsumexp(logs, axis=0))
    share = by_shift * weights[None, :, None]
    posterior = (share * centre).sum(axis=(0, 1))
    scatter = (share * (spread + (centre - posterior) ** 2)).sum(axis=(0, 1))
    precision = np.maximum(1 / scatter - 1 / variance, 1 / (WIDEST**2 * variance))
    factor = (posterior / scatter - mean / variance) / precision
    return factor, 1 / precision, total


def _shrunk(factor: Array, variance: Array, windows: Windows) -> Array:
    """Each factor drawn to the table: what a picture shows is then never wild."""
    mean, prior = table_prior(windows)
    return np.asarray((factor / variance + mean / prior) / (1 / variance + 1 / prior))


def _peak_response(model: Model, windows: Windows) -> Array:
    """[B] peak of the response of all doses per unit of factor."""
    last = int((windows.dose_minutes.max(initial=0)) + 120)
    minutes = np.broadcast_to(np.arange(0, last, 5), (windows.row.size, len(range(0, last, 5))))
    return np.asarray(response(model, windows, minutes)[0].max(axis=1))


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What is known of a treatment before its response is seen; arrays [B, 2] at 30 and 45 minutes."""

    person_id: pl.Series
    first_dose_utc: pl.Series
    minutes: tuple[int, ...]
    untreated_mg_dl: Array
    untreated_var: Array  # of a reading there, sensor noise included
    response_g: Array  # rise per mg/dL per g of factor
    response_var: Array  # from doubt of the dose's time


def predict(
    inputs: Inputs,
    screened: pl.DataFrame,
    settings: PathSettings,
    learned: PathParameters | None = None,
    minutes: tuple[int, ...] = (30, 45),
) -> Foreseen:
    """Where the untreated path would be, and the rise per unit of factor, from readings up to the first dose only."""
    everything = laid_out(inputs, screened, settings)
    before = everything.present & (everything.minutes <= 0)
    enough = (before.sum(axis=1) >= settings.fewest_before) & (everything.grams > 0)
    windows = everything.chosen(enough).seen_until(0)
    rows = screened[windows.row]
    model = Model.of([candidates_of(learned, settings).middle])
    asked = np.broadcast_to(np.array(minutes), (windows.row.size, len(minutes)))
    mean, variance = _ahead(model, windows, settings, asked)
    weights = np.exp(shift_log_weights(settings))
    rises = np.array([response(model, windows, asked, shift)[0] for shift in settings.dose_shift_min])
    middle = np.tensordot(weights, rises, 1)
    return Foreseen(
        rows["person_id"], rows["first_dose_utc"], minutes, mean, variance, middle,
        np.tensordot(weights, (rises - middle) ** 2, 1),
    )  # fmt: skip


def _ahead(model: Model, windows: Windows, settings: PathSettings, asked: Array) -> tuple[Array, Array]:
    at = untreated_at(model, windows, settings, Readings.plain(windows), asked)
    path = model.candidates[0].path
    return at.mean, at.variance + path.reading_sd**2 + path.linger_sd**2
