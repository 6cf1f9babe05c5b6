"""What is known of a treatment before its response is seen: where the path was heading, and what a gram would do."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.array_types import Array, Whole
from gramrise.estimate.path.candidate_model import CandidateModel, regression_columns
from gramrise.estimate.path.compiled import forecast_level
from gramrise.estimate.path.dynamics import LEVEL
from gramrise.estimate.path.windows import TreatmentWindows
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.treatment.candidate_posterior import CandidatePosterior
from gramrise.estimate.treatment.priors import shift_log_weights


@dataclass(frozen=True, slots=True)
class CandidateForecast:
    """By candidate, arrays [K, B, A] at the asked minutes after the first dose."""

    untreated_mg_dl: Array
    untreated_var: Array  # of a reading there, sensor noise included
    response_g: Array  # rise per mg/dL per g of factor
    response_var: Array  # from doubt of the dose's time


@dataclass(frozen=True, slots=True)
class Forecast:
    """What was to be expected of treatments, as `Heading`, by the candidate favoured before each; arrays [B, A]."""

    rows: Whole  # [B] which of the treatments: those with readings enough before
    minutes: tuple[int, ...]
    untreated_mg_dl: Array
    untreated_var: Array
    response_g: Array
    response_var: Array


def forecast_by_best_candidate(
    records: NDArray[np.void], judged: CandidatePosterior, minutes: tuple[int, ...]
) -> Forecast:
    """Nothing after a treatment's first dose is looked at: the candidate is the one its predecessors favour.

    records   as `alone.measured_alone` makes them, of a person's treatments in order of time
    """
    rows = np.flatnonzero(records["forecastable"])
    by = judged.best_before()[rows]
    lines = (
        records[name][rows, by].astype(float) for name in ("untreated", "untreated_var", "response", "response_var")
    )
    return Forecast(rows, minutes, *lines)


def candidate_forecast(
    model: CandidateModel, windows: TreatmentWindows, settings: PathSettings, minutes: tuple[int, ...]
) -> CandidateForecast:
    """Where the untreated path would be, and the rise per unit of factor, from readings up to the first dose only.

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
    space = model.space
    level, variance = forecast_level(
        space.transition, space.noise, space.seen, space.reading_variance, space.start_mean, space.start_covariance,
        early.steps, early.present, np.ascontiguousarray(columns), points, np.asarray(asked - last), LEVEL,
    )  # fmt: skip
    noise = np.array([c.path.reading_sd**2 + c.path.linger_sd**2 for c in model.candidates])[:, None, None]
    there = replace(windows, minutes=asked, values=np.zeros(asked.shape))
    at_work = regression_columns(model, there, settings, settings.dose_shift_min, there.values)
    first = 1 + at_work.surroundings_n
    untreated = _untreated(model, level, at_work.values[..., 1:first])
    return CandidateForecast(untreated, variance + noise, *_responses(settings, at_work.values[..., first:]))


def _untreated(model: CandidateModel, level: Array, pushes: Array) -> Array:
    """[K, B, A] the level foretold, with what logged insulin and food are expected to do beyond what the path shows.

    level   [K, B, A, 1 + pushes] as foretold of the readings, and of each push as far as they show it
    pushes  [K, B, A, pushes] the whole of them
    """
    untreated = level[..., 0] + np.array([c.path.resting_mg_dl for c in model.candidates])[:, None, None]
    for part, name in zip(range(pushes.shape[3]), ("insulin_share", "food_share"), strict=False):
        share = np.array([getattr(c, name) for c in model.candidates])[:, None, None]
        untreated = untreated + share * (pushes[..., part] - level[..., 1 + part])
    return np.asarray(untreated)


def _responses(settings: PathSettings, rises: Array) -> tuple[Array, Array]:
    """[K, B, A] mean and variance of the rise per unit of factor over the doubt of the dose's time.

    rises   [K, B, A, shifts]
    """
    weights = np.exp(shift_log_weights(settings))
    middle = rises @ weights
    return middle, (rises - middle[..., None]) ** 2 @ weights
