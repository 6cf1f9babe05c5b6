"""The untreated path given all readings of a window (smoothed), and readings below range as bounds."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gramrise.estimate.array_types import Array, Whole
from gramrise.estimate.path import (
    LEVEL,
    CandidateModel,
    Readings,
    TreatmentWindows,
    regression_columns,
    response,
    smooth_level,
    with_bounds,
)
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.treatment.likelihood import factor_likelihood
from gramrise.estimate.treatment.priors import table_prior


@dataclass(frozen=True, slots=True)
class UntreatedAt:
    """The untreated path at asked minutes, [B, A], its variance, and its change per unit of factor."""

    mean: Array  # at factor 0
    by_factor: Array  # change per unit of factor: mean + factor * by_factor
    variance: Array  # at a known factor


def untreated_at(
    model: CandidateModel, windows: TreatmentWindows, settings: PathSettings, readings: Readings, asked: Whole
) -> UntreatedAt:
    """Smooth the path of each window at the asked minutes ([B, A], minutes from the first dose), one candidate."""
    (laid, seen), order = _with_points(windows, readings, asked)
    columns = regression_columns(model, laid, settings, (0,), seen.values).values[0]
    level, variance = smooth_level(model.space, laid.steps, seen.present, seen.extra_variance, columns, LEVEL)
    middle = model.candidates[0]
    untreated = level[..., 0] + middle.path.resting_mg_dl
    for part, share in zip(range(1, columns.shape[2] - 1), (middle.insulin_share, middle.food_share), strict=False):
        untreated = untreated + share * (columns[..., part] - level[..., part])
    at = np.take_along_axis
    return UntreatedAt(at(untreated, order, 1), at(-level[..., -1], order, 1), at(variance, order, 1))


def _with_points(
    windows: TreatmentWindows, readings: Readings, asked: Whole
) -> tuple[tuple[TreatmentWindows, Readings], Whole]:
    """The windows with the asked points added, without readings there; and the place of each asked point, [B, A]."""
    last = np.where(readings.present, windows.minutes, windows.minutes[:, :1]).max(axis=1, keepdims=True)
    real = windows.minutes <= last  # padding repeats the last minute, which does no harm
    minutes = np.concatenate([np.where(real, windows.minutes, last), asked], axis=1)
    order = np.argsort(minutes, axis=1, kind="stable")

    def arranged(array: NDArray[Any], fill: float) -> NDArray[Any]:
        wide = np.concatenate([array, np.full(asked.shape, fill, dtype=array.dtype)], axis=1)
        return np.take_along_axis(wide, order, axis=1)

    values = Readings(
        arranged(readings.values, 0.0), arranged(readings.extra_variance, 0.0), arranged(readings.present, False)
    )
    laid = replace(
        windows,
        minutes=np.take_along_axis(minutes, order, axis=1),
        values=values.values,
        present=values.present,
        below=arranged(windows.below, False),
    )
    back = np.argsort(order, axis=1)[:, windows.minutes.shape[1] :]
    return (laid, values), back


def readings_of(model: CandidateModel, windows: TreatmentWindows, settings: PathSettings) -> Readings:
    """The windows' readings, those below the sensor's range as bounds on the first candidate's prediction."""
    plain = Readings.plain(windows)
    has = np.flatnonzero(windows.below.any(axis=1))
    if not has.size:
        return plain
    one = CandidateModel.of([model.candidates[0]])
    part, some = windows.chosen(has), plain.chosen(has)
    mean, prior = table_prior(part)
    at = untreated_at(one, part, settings, some, part.minutes)
    found = factor_likelihood(one, part, settings, (0,), some)
    factor, spread, _ = found.with_prior(mean, prior)
    slope = at.by_factor + response(one, part, part.minutes)[0]
    path = one.candidates[0].path
    guess = at.mean + factor[0, 0][:, None] * slope
    doubt = at.variance + path.linger_sd**2 + spread[0, 0][:, None] * slope**2
    bounded = with_bounds(some, part.below, guess, doubt, path.reading_sd**2)
    values, extra, present = plain.values.copy(), plain.extra_variance.copy(), plain.present.copy()
    values[has], extra[has], present[has] = bounded.values, bounded.extra_variance, bounded.present
    return Readings(values, extra, present)
