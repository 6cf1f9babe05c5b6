"""Candidates with their tables: state space, rise curves, and the regression columns they give for each window."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from gramrise.domain.starting import REFERENCE_GRAMS_PER_KG
from gramrise.estimate.array_types import Array, Whole
from gramrise.estimate.path.dynamics import PathDynamics, one_minute, state_space
from gramrise.estimate.path.kalman import StateSpace, stacked
from gramrise.estimate.path.parameters import PathParameters
from gramrise.estimate.path.rise_shape import SHAPE_FIELDS, RiseShape, expected_rise
from gramrise.estimate.path.windows import FORMS, MOST_STEP_MIN, TreatmentWindows
from gramrise.estimate.path_settings import PathSettings

# Where no weight is known, this one scales the amount against the reference: our choice, a middle body.
WEIGHT_UNKNOWN_KG: Final = 50.0


@dataclass(frozen=True, slots=True)
class CandidateModel:
    """Candidates with their state-space tables and response tables."""

    candidates: tuple[PathParameters, ...]
    space: StateSpace
    shown: Array  # [K, forms, MINUTES_N] what the sensor is expected to show per unit of factor
    push: Array  # [K, n, n] one-minute transition, for inputs of insulin and food

    @classmethod
    def of(cls, candidates: Sequence[PathParameters]) -> "CandidateModel":
        """Build the tables of these candidates; each is built once, as every person of a night needs the same."""
        spaces = [_path_tables(c.path) for c in candidates]
        shapes = [_rise_tables(tuple(c.shape(form.value) for form in FORMS)) for c in candidates]
        return cls(
            tuple(candidates),
            stacked([space for space, _ in spaces]),
            np.stack(shapes),
            np.stack([push for _, push in spaces]),
        )


@lru_cache(maxsize=256)
def _path_tables(path: PathDynamics) -> tuple[StateSpace, Array]:
    return state_space([path], MOST_STEP_MIN), one_minute(path)[0]


@lru_cache(maxsize=256)
def _rise_tables(shapes: tuple[RiseShape, ...]) -> Array:
    """[forms, MINUTES_N]"""
    gut, disposal, lag = (np.array([getattr(shape, name) for shape in shapes]) for name in SHAPE_FIELDS)
    return expected_rise(gut, disposal, lag)


def weights_of_doses(model: CandidateModel, windows: TreatmentWindows) -> Array:
    """[K, B, N] grams of each dose, scaled so that a factor at the reference amount applies.

    A treatment of G grams in all rises as G to the exponent: g becomes g x (G / reference) ** (exponent - 1).
    """
    weight = np.where(np.isnan(windows.weight_kg), WEIGHT_UNKNOWN_KG, windows.weight_kg)
    relative = np.maximum(windows.grams, 0.1) / (REFERENCE_GRAMS_PER_KG * weight)
    exponent = np.array([c.exponent for c in model.candidates])
    scaled: Array = windows.dose_grams[None] * (relative[None, :] ** (exponent[:, None] - 1))[:, :, None]
    return scaled


def response(model: CandidateModel, windows: TreatmentWindows, minutes: Whole, shift: int = 0) -> Array:
    """[K, B, T] rise per unit of factor at minutes of each window ([B, T]), all doses eaten `shift` minutes late."""
    from gramrise.estimate.compiled import fill_responses

    out = np.zeros((len(model.candidates), *minutes.shape, 1))
    scaled, moves = weights_of_doses(model, windows), np.array([shift], dtype=np.int64)
    at = np.ascontiguousarray(minutes, dtype=np.int64)
    fill_responses(out, 0, model.shown, scaled, at, windows.dose_minutes, windows.dose_form, moves)
    return out[..., 0]


def pushed(model: CandidateModel, windows: TreatmentWindows, rate: Array, settings: PathSettings) -> Array:
    """[K, B, T] level shown after an input on the slope; rate [B, M], mg/dL per min, from the start of the run-in."""
    from gramrise.estimate.compiled import driven_level

    acts = np.flatnonzero(rate.any(axis=1))
    out = np.zeros((model.push.shape[0], *windows.minutes.shape))
    if not acts.size:
        return out
    # Level and slope with an input on the slope are a recursion of order two: level' = trace level - det level_before.
    at = (windows.minutes[acts] + int(settings.run_in_min)).clip(0, rate.shape[1] - 1)
    last = int(at.max()) + 1
    done: dict[PathDynamics, Array] = {}
    for k, candidate in enumerate(model.candidates):
        if candidate.path not in done:
            phi = model.push[k, :2, :2]
            gain = phi[0, 1] / candidate.path.bend_min
            level = driven_level(rate[acts, :last], float(np.trace(phi)), float(np.linalg.det(phi)), float(gain))
            done[candidate.path] = np.take_along_axis(level, at, axis=1)
        out[k, acts] = done[candidate.path]
    return out


@dataclass(frozen=True, slots=True)
class RegressionColumns:
    """The columns of the regression: readings, then insulin and food where logged, then one response per shift."""

    values: Array  # [K, B, T, P]
    begins: Whole  # [B, P] point from which a column may differ from zero, ascending
    surroundings_n: int  # columns of insulin and food, right behind the readings


def regression_columns(
    model: CandidateModel, windows: TreatmentWindows, settings: PathSettings, shifts: tuple[int, ...], values: Array
) -> RegressionColumns:
    """The columns of every window; `shifts` ascending, in minutes by which all doses are moved."""
    from gramrise.estimate.compiled import fill_responses

    rates = _surroundings(windows, settings)
    first = 1 + len(rates)
    columns = np.zeros((len(model.candidates), *windows.minutes.shape, first + len(shifts)))
    resting = np.array([c.path.resting_mg_dl for c in model.candidates])
    columns[..., 0] = values[None] - resting[:, None, None] - read_high(model, windows)
    for column, rate in enumerate(rates):
        columns[..., 1 + column] = pushed(model, windows, rate, settings)
    moves = np.array(shifts, dtype=np.int64)
    scaled = weights_of_doses(model, windows)
    fill_responses(columns, first, model.shown, scaled, windows.minutes, windows.dose_minutes, windows.dose_form, moves)
    begins = np.zeros((windows.row.size, first + len(shifts)), dtype=np.int64)
    begins[:, first:] = (windows.minutes[:, :, None] <= moves[None, None, :]).sum(axis=1)
    return RegressionColumns(columns, begins, len(rates))


def _surroundings(windows: TreatmentWindows, settings: PathSettings) -> list[Array]:
    """[B, M] push of logged insulin, then of logged food, on the slope, mg/dL per min; none where none is logged."""
    weight = np.where(np.isnan(windows.weight_kg), WEIGHT_UNKNOWN_KG, windows.weight_kg)[:, None]
    rates = []
    if windows.acting.any() or windows.food.any():
        rates.append(-settings.insulin.fall_mg_dl_kg_per_unit / weight * windows.acting)
    if windows.food.any():
        rates.append(settings.insulin.rise_mg_dl_kg_per_g / weight * windows.food)
    return rates


def read_high(model: CandidateModel, windows: TreatmentWindows) -> Array:
    """[K, B, T] mean sensor error near the moment glucose is taken; it fades to both sides as lingering error does."""
    high = np.array([c.reads_high_mg_dl for c in model.candidates])[:, None, None]
    linger = np.array([c.path.linger_min for c in model.candidates])[:, None, None]
    return np.asarray(high * (windows.grams > 0)[:, None] * np.exp(-np.abs(windows.minutes) / linger))
