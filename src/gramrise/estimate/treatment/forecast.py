"""The forecast of a treatment before its response is seen: the untreated path, and what a gram would do."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.array_types import Array, Whole
from gramrise.estimate.path import LEVEL, CandidateModel, TreatmentWindows, forecast_level, regression_columns
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.treatment.candidate_posterior import CandidatePosterior
from gramrise.estimate.treatment.priors import shift_log_weights


@dataclass(frozen=True, slots=True)
class CandidateForecast:
    """By candidate, arrays [K, B, A] at the asked minutes after the first dose."""

    untreated_mg_dl: Array
    untreated_var: Array  # of a reading there, sensor noise included
    response_g: Array  # rise per mg/dL per g of factor
    response_var: Array  # from the uncertain dose time


@dataclass(frozen=True, slots=True)
class Forecast:
    """As `CandidateForecast`, by the best candidate before each treatment; arrays [B, A]."""

    rows: Whole  # [B] the treatments with enough readings before the first dose
    minutes: tuple[int, ...]
    untreated_mg_dl: Array
    untreated_var: Array
    response_g: Array
    response_var: Array


def forecast_by_best_candidate(
    records: NDArray[np.void], posterior: CandidatePosterior, minutes: tuple[int, ...]
) -> Forecast:
    """The forecast of each treatment from what was known before its first dose: readings, and earlier treatments.

    records    of a person's treatments in order of time, as `measurement.measure_each` makes them
    """
    rows = np.flatnonzero(records["forecastable"])
    by = posterior.best_before()[rows]
    lines = (
        records[name][rows, by].astype(float) for name in ("untreated", "untreated_var", "response", "response_var")
    )
    return Forecast(rows, minutes, *lines)


def candidate_forecast(
    model: CandidateModel, windows: TreatmentWindows, settings: PathSettings, minutes: tuple[int, ...]
) -> CandidateForecast:
    """Forecast the untreated path, and the rise per unit of factor, from readings up to the first dose only.

    windows   each with a point at or before minute 0
    minutes   asked, after the first dose, ascending
    """
    asked = np.broadcast_to(np.array(minutes), (windows.row.size, len(minutes)))
    points = (windows.minutes <= 0).sum(axis=1)
    most = int(points.max(initial=1))
    early = replace(windows, **{name: getattr(windows, name)[:, :most] for name in ("minutes", "values", "present")})
    early = replace(early, below=windows.below[:, :most])
    columns = regression_columns(model, early, settings, (), early.values).values
    last = np.take_along_axis(windows.minutes, points[:, None] - 1, axis=1)
    ahead = np.asarray(asked - last)
    level, variance = forecast_level(model.space, early.steps, early.present, columns, points, ahead, LEVEL)
    noise = np.array([c.path.reading_sd**2 + c.path.linger_sd**2 for c in model.candidates])[:, None, None]
    there = replace(windows, minutes=asked, values=np.zeros(asked.shape))
    at_work = regression_columns(model, there, settings, settings.dose_shift_min, there.values)
    first = 1 + at_work.surroundings_n
    untreated = _untreated(model, level, at_work.values[..., 1:first])
    return CandidateForecast(untreated, variance + noise, *_responses(settings, at_work.values[..., first:]))


def _untreated(model: CandidateModel, level: Array, pushes: Array) -> Array:
    """[K, B, A] the forecast level, with what logged insulin and food will do beyond what the path already shows.

    level   [K, B, A, 1 + pushes] forecast of the readings, and of each push as far as the readings show it
    pushes  [K, B, A, pushes] the whole of them
    """
    untreated = level[..., 0] + np.array([c.path.resting_mg_dl for c in model.candidates])[:, None, None]
    for part, name in zip(range(pushes.shape[3]), ("insulin_share", "food_share"), strict=False):
        share = np.array([getattr(c, name) for c in model.candidates])[:, None, None]
        untreated = untreated + share * (pushes[..., part] - level[..., 1 + part])
    return np.asarray(untreated)


def _responses(settings: PathSettings, rises: Array) -> tuple[Array, Array]:
    """[K, B, A] mean and variance of the rise per unit of factor over the prior of the dose's time.

    rises   [K, B, A, shifts]
    """
    weights = np.exp(shift_log_weights(settings))
    middle = rises @ weights
    return middle, (rises - middle[..., None]) ** 2 @ weights
