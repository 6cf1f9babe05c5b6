"""Pictures of treatments: each drawn by what was known when it had been seen, so that old ones never change."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from gramrise.domain.kept import PATH_STEP_MIN, picture_of
from gramrise.estimate.array_types import Array, Flags, Whole
from gramrise.estimate.path.candidate_model import CandidateModel, response
from gramrise.estimate.path.censoring import Readings
from gramrise.estimate.path.windows import TreatmentWindows
from gramrise.estimate.treatment.candidate_posterior import CandidatePosterior
from gramrise.estimate.treatment.likelihood import FactorLikelihood, over_shifts
from gramrise.estimate.treatment.measurement import MeasurementSetup, Records, likelihood_of
from gramrise.estimate.treatment.priors import FACTOR_PRIOR_CV, LOWEST_SHARE, OWN_CV, shift_log_weights, table_prior
from gramrise.estimate.treatment.untreated_path import readings_of, untreated_at

# How far beyond the last dose the highest point of the rise is looked for, minutes: the latest shape peaks well before.
PEAK_WITHIN_MIN: Final = 120


@dataclass(frozen=True, slots=True)
class BodyWeights:
    """Body weights of treatments' days, as priors want them."""

    weight_kg: Array


def draw_pictures(
    records: Records,
    judged: CandidatePosterior,
    weights: BodyWeights,
    windows: TreatmentWindows,
    begin: int,
    setup: MeasurementSetup,
    with_paths: bool,
) -> list[bytes]:
    """Draw the treatments from row `begin` on, and fill in their records what was drawn.

    records, judged, weights   of all of a person's treatments [B]; those before `begin` are drawn already
    windows                    [B - begin]
    returns                    a picture each, empty where there is nothing to draw (or it is not wanted)
    """
    pictures = [b""] * windows.row.size
    new: Whole = begin + np.flatnonzero(records["measured"][begin:])
    if not new.size:
        return pictures
    best = judged.best_with()[new]
    found = _by_own_candidate(records[new], best)
    part = BodyWeights(weights.weight_kg[new])
    table, wide = table_prior(part)
    shifts = shift_log_weights(setup.settings)
    factor, variance = (each[0] for each in over_shifts(found, shifts, table, wide))
    for name, values in (("drawn_by", best), ("drawn_ratio", factor / table), ("drawn_ratio_var", variance / table**2)):
        records[name][new] = values
    share = _level_by_then(records, judged.used)[new]
    mean, prior = share * table, share**2 * wide
    factor, variance = (each[0] for each in over_shifts(found, shifts, mean, prior))
    # What a picture shows is drawn to the person's level: a single treatment's own number can be wild.
    precision = 1 / variance + 1 / prior
    drawn, doubt = (factor / variance + mean / prior) / precision, 1 / precision
    for k in np.unique(best):
        mine = best == k
        model = CandidateModel.of([setup.model.candidates[int(k)]])
        those = windows.chosen(new[mine] - begin)
        readings = readings_of(setup.model, those, setup.settings)
        grid = _grid(those, readings) if with_paths else np.zeros(1, dtype=np.int64)
        lines = _lines(model, those, readings, setup, (drawn[mine], doubt[mine]), grid)
        records["start"][new[mine]] = lines.start
        records["rise"][new[mine]] = drawn[mine] * peak_response(model, those)
        if with_paths:
            for row, picture in zip(new[mine] - begin, lines.packed(), strict=True):
                pictures[row] = picture
    return pictures


def _by_own_candidate(records: Records, best: Whole) -> FactorLikelihood:
    """[S, 1, B] what each treatment says to the one candidate it is drawn by."""
    everything = likelihood_of(records)
    rows = np.arange(best.size)

    def own(array: Array) -> Array:
        return array[..., best, rows][..., None, :]

    return FactorLikelihood(
        own(everything.factor),
        own(everything.precision),
        own(everything.log_height),
        own(everything.log_height_alone),
        own(everything.log_height_before),
    )


def _level_by_then(records: Records, used: Flags) -> Array:
    """[B] the person's level over the table when each treatment had been seen; as `levelled_prior`, in event order."""
    weight = np.where(used, 1.0 / (records["drawn_ratio_var"] + OWN_CV**2), 0.0)
    own = 1.0 / FACTOR_PRIOR_CV**2
    level = (own + np.cumsum(weight * records["drawn_ratio"])) / (own + np.cumsum(weight))
    return np.maximum(level, LOWEST_SHARE)


@dataclass(frozen=True, slots=True)
class _Lines:
    """Lines of several pictures on one grid of minutes, and where each of them stands on it."""

    grid: Whole  # [M]
    inside: Flags  # [B, M]
    untreated: Array
    sd: Array
    fitted: Array

    @property
    def start(self) -> Array:
        """[B] level at the first dose."""
        return np.asarray(self.untreated[:, int(np.flatnonzero(self.grid == 0)[0])])

    def packed(self) -> list[bytes]:
        rows = zip(self.inside, self.untreated, self.sd, self.fitted, strict=True)
        return [
            picture_of(int(self.grid[here][0]), untreated[here], sd[here], fitted[here])
            for here, untreated, sd, fitted in rows
        ]


def _grid(windows: TreatmentWindows, readings: Readings) -> Whole:
    """[M] minutes every five from the first reading of any window to the last of any."""
    first, last = _ends(windows, readings)
    return np.asarray(np.arange(first.min() // PATH_STEP_MIN, last.max() // PATH_STEP_MIN + 1) * PATH_STEP_MIN)


def _ends(windows: TreatmentWindows, readings: Readings) -> tuple[Whole, Whole]:
    """[B] minutes of the first and the last reading of each window."""
    first = np.where(readings.present, windows.minutes, 10**6).min(axis=1)
    return first, np.where(readings.present, windows.minutes, -(10**6)).max(axis=1)


def _lines(
    model: CandidateModel,
    windows: TreatmentWindows,
    readings: Readings,
    setup: MeasurementSetup,
    factor_and_doubt: tuple[Array, Array],
    grid: Whole,
) -> _Lines:
    """The pictures of windows by one candidate at the minutes of a grid."""
    factor, variance = factor_and_doubt
    first, last = _ends(windows, readings)
    # Never before a window's own first point: there its path begins, whatever other windows are drawn with it.
    asked = np.maximum(grid[None, :], windows.minutes[:, :1])
    at = untreated_at(model, windows, setup.settings, readings, asked)
    mean = at.mean + factor[:, None] * at.by_factor
    return _Lines(
        grid,
        (grid[None, :] >= first[:, None]) & (grid[None, :] <= last[:, None]),
        mean,
        np.sqrt(at.variance + variance[:, None] * at.by_factor**2),
        mean + factor[:, None] * response(model, windows, asked)[0],
    )


def peak_response(model: CandidateModel, windows: TreatmentWindows) -> Array:
    """[B] peak of the response of all doses per unit of factor, of the first candidate."""
    last = int(windows.dose_minutes.max(initial=0)) + PEAK_WITHIN_MIN
    minutes = np.arange(0, last, PATH_STEP_MIN)
    asked = np.broadcast_to(minutes, (windows.row.size, minutes.size))
    return np.asarray(response(model, windows, asked)[0].max(axis=1))
