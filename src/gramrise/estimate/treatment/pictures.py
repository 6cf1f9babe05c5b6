"""Pictures of treatments. Each is drawn from what was known once it had been seen, so that old ones never change."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.pictures import PATH_STEP_MIN, Drawn
from gramrise.estimate.array_types import Array, Flags, Whole
from gramrise.estimate.path import CandidateModel, Readings, TreatmentWindows, laid_out, response
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


@dataclass(frozen=True, slots=True)
class Drawing:
    """Which treatments are drawn, by which candidate, and with what factor; arrays of equal length."""

    rows: Whole  # of the treatments: those measured
    candidate: Whole
    factor: Array  # mg/dL per g, and its variance; rounded to float32, so that fingerprints never hang on a last digit
    variance: Array

    def chosen(self, places: list[int]) -> "Drawing":
        return Drawing(self.rows[places], self.candidate[places], self.factor[places], self.variance[places])

    def rests_on(self, nth: int) -> bytes:
        """What one picture is drawn with."""
        return np.array([self.candidate[nth], self.factor[nth], self.variance[nth]], dtype=np.float64).tobytes()


def drawing_of(
    records: Records, posterior: CandidatePosterior, weights: BodyWeights, setup: MeasurementSetup
) -> Drawing:
    """How a person's treatments are drawn, from what was known when each had been seen; arguments [B]."""
    rows: Whole = np.flatnonzero(records["measured"])
    best = posterior.best_with()[rows]
    found = _by_own_candidate(records[rows], best)
    table, wide = table_prior(BodyWeights(weights.weight_kg[rows]))
    shifts = shift_log_weights(setup.settings)
    factor, variance = (each[0] for each in over_shifts(found, shifts, table, wide))
    share = _level_by_then(factor / table, variance / table**2, posterior.used[rows])
    mean, prior = share * table, share**2 * wide
    factor, variance = (each[0] for each in over_shifts(found, shifts, mean, prior))
    # A picture shows the factor shrunk to the person's level: a single treatment's own number can be wild.
    precision = 1 / variance + 1 / prior
    drawn, doubt = (factor / variance + mean / prior) / precision, 1 / precision
    return Drawing(rows, best, *(each.astype(np.float32).astype(float) for each in (drawn, doubt)))


def draw(inputs: Inputs, screened: pl.DataFrame, drawing: Drawing, setup: MeasurementSetup) -> list[Drawn]:
    """The pictures of some treatments; their rows of SCREENED in the order of the drawing."""
    windows = laid_out(inputs, screened, setup.settings)
    made: list[Drawn | None] = [None] * windows.row.size
    for k in np.unique(drawing.candidate):
        mine: Whole = np.flatnonzero(drawing.candidate == k)
        model = CandidateModel.of([setup.model.candidates[int(k)]])
        those = windows.chosen(mine)
        readings = readings_of(setup.model, those, setup.settings)
        factor, variance = drawing.factor[mine], drawing.variance[mine]
        lines = _lines(model, those, readings, setup, (factor, variance), _grid(those, readings))
        for nth, drawn in zip(mine.tolist(), lines.drawn(factor * peak_response(model, those)), strict=True):
            made[nth] = drawn
    return [drawn for drawn in made if drawn is not None]


def _by_own_candidate(records: Records, best: Whole) -> FactorLikelihood:
    """[S, 1, B] the likelihood of each treatment under the one candidate by which it is drawn."""
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


def _level_by_then(ratio: Array, ratio_var: Array, used: Flags) -> Array:
    """[B] the person's level over the table after each treatment in event order; as `levelled_prior`.

    ratio   factor over the table's, by the treatment's own candidate under the table's prior
    """
    weight = np.where(used, 1.0 / (ratio_var + OWN_CV**2), 0.0)
    own = 1.0 / FACTOR_PRIOR_CV**2
    level = (own + np.cumsum(weight * ratio)) / (own + np.cumsum(weight))
    return np.maximum(level, LOWEST_SHARE)


@dataclass(frozen=True, slots=True)
class _Lines:
    """Lines of several pictures on one grid of minutes, and the part of it that each covers."""

    grid: Whole  # [M]
    inside: Flags  # [B, M]
    untreated: Array
    sd: Array
    fitted: Array

    @property
    def start(self) -> Array:
        """[B] level at the first dose."""
        return np.asarray(self.untreated[:, int(np.flatnonzero(self.grid == 0)[0])])

    def drawn(self, rise: Array) -> list[Drawn]:
        """The pictures. rise [B] peaks of the estimated rises."""
        rows = zip(self.inside, self.start, rise, self.untreated, self.sd, self.fitted, strict=True)
        return [
            Drawn(int(self.grid[here][0]), float(start), float(peak), untreated[here], sd[here], fitted[here])
            for here, start, peak, untreated, sd, fitted in rows
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
