"""Candidates made ready to run: tables of the path, and the columns that doses, insulin and food add to a window."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.signal import lfilter

from gramrise.domain.starting import REFERENCE_GRAMS_PER_KG
from gramrise.estimate.compiled import fill_responses
from gramrise.estimate.filter import Array, StateSpace, Whole
from gramrise.estimate.parameters import PathParameters
from gramrise.estimate.path import PathDynamics, one_minute, state_space
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.shape import MINUTES_N, SHAPE_FIELDS, expected_rise
from gramrise.estimate.windows import FORMS, MOST_STEP_MIN, Windows

# Weight taken where none is known, only to scale the amount by the reference: our choice, a middle body.
WEIGHT_UNKNOWN_KG: Final = 50.0


@dataclass(frozen=True, slots=True)
class Model:
    """Candidates ready to run: state-space tables and response tables."""

    candidates: tuple[PathParameters, ...]
    space: StateSpace
    shown: Array  # [K, forms, MINUTES_N] what the sensor is expected to show per unit of factor
    push: Array  # [K, n, n] one-minute transition, for inputs of insulin and food

    @classmethod
    def of(cls, candidates: list[PathParameters]) -> "Model":
        shapes = [[c.shape(form.value) for form in FORMS] for c in candidates]
        gut, disposal, lag = (
            np.array([[getattr(shape, name) for shape in row] for row in shapes]) for name in SHAPE_FIELDS
        )
        return cls(
            tuple(candidates),
            state_space([c.path for c in candidates], MOST_STEP_MIN),
            expected_rise(gut, disposal, lag),
            np.array([one_minute(c.path)[0] for c in candidates]),
        )


def weights_of_doses(model: Model, windows: Windows) -> Array:
    """[K, B, N] grams of each dose, scaled so that a factor at the reference amount applies: g x (G / reference)^(b-1)."""
    weight = np.where(np.isnan(windows.weight_kg), WEIGHT_UNKNOWN_KG, windows.weight_kg)
    relative = np.maximum(windows.grams, 0.1) / (REFERENCE_GRAMS_PER_KG * weight)
    exponent = np.array([c.exponent for c in model.candidates])
    return windows.dose_grams[None] * (relative[None, :] ** (exponent[:, None] - 1))[:, :, None]


def response(model: Model, windows: Windows, minutes: Whole, shift: int = 0) -> Array:
    """[K, B, T] rise per unit of factor at minutes of each window ([B, T]), all doses eaten `shift` minutes late."""
    shown = model.shown
    scaled = weights_of_doses(model, windows)
    out = np.zeros((shown.shape[0], *minutes.shape))
    for dose in range(windows.dose_minutes.shape[1]):
        has = np.flatnonzero(windows.dose_grams[:, dose] > 0)
        if not has.size:
            continue
        since = minutes[has] - windows.dose_minutes[has, dose, None] - shift
        table_at = shown[:, windows.dose_form[has, dose][:, None], since.clip(0, MINUTES_N - 1)]
        out[:, has] += scaled[:, has, dose, None] * np.where(since > 0, table_at, 0.0)
    return out


def pushed(model: Model, windows: Windows, rate: Array, settings: PathSettings) -> Array:
    """[K, B, T] level shown after an input of `rate` ([B, M] mg/dL per min from the start of the run-in) on the slope."""
    acts = np.flatnonzero(rate.any(axis=1))
    out = np.zeros((model.push.shape[0], *windows.minutes.shape))
    if not acts.size:
        return out
    # Level and slope with an input on the slope are a recursion of order two: level' = trace level - det level_before.
    at = (windows.minutes[acts] + int(settings.run_in_min)).clip(0, rate.shape[1] - 1)
    done: dict[PathDynamics, Array] = {}
    for k, candidate in enumerate(model.candidates):
        if candidate.path not in done:
            phi = model.push[k, :2, :2]
            gain = phi[0, 1] / candidate.path.bend_min
            level = lfilter([0.0, gain], [1.0, -np.trace(phi), np.linalg.det(phi)], rate[acts], axis=1)
            done[candidate.path] = np.take_along_axis(level, at, axis=1)
        out[k, acts] = done[candidate.path]
    return out


def regression_columns(
    model: Model, windows: Windows, settings: PathSettings, shifts: tuple[int, ...], values: Array
) -> Array:
    """[K, B, T, P] readings about the resting level, one response per shift, then insulin and food where logged."""
    acting, food = windows.acting.any(), windows.food.any()
    width = 1 + len(shifts) + int(acting or food) + int(food)
    columns = np.zeros((len(model.candidates), *windows.minutes.shape, width))
    resting = np.array([c.path.resting_mg_dl for c in model.candidates])
    columns[..., 0] = values[None] - resting[:, None, None] - read_high(model, windows)
    scaled = weights_of_doses(model, windows)
    fill_responses(
        columns, 1, model.shown, scaled, windows.minutes, windows.dose_minutes, windows.dose_form,
        np.array(shifts, dtype=np.int64),
    )  # fmt: skip
    weight = np.where(np.isnan(windows.weight_kg), WEIGHT_UNKNOWN_KG, windows.weight_kg)[:, None]
    if acting or food:
        falling = -settings.insulin.fall_mg_dl_kg_per_unit / weight * windows.acting
        columns[..., 1 + len(shifts)] = pushed(model, windows, falling, settings)
    if food:
        rising = settings.insulin.rise_mg_dl_kg_per_g / weight * windows.food
        columns[..., 2 + len(shifts)] = pushed(model, windows, rising, settings)
    return columns


def read_high(model: Model, windows: Windows) -> Array:
    """[K, B, T] mean sensor error about the moment glucose is taken; fades to both sides as lingering error does."""
    high = np.array([c.reads_high_mg_dl for c in model.candidates])[:, None, None]
    linger = np.array([c.path.linger_min for c in model.candidates])[:, None, None]
    return np.asarray(high * (windows.grams > 0)[:, None] * np.exp(-np.abs(windows.minutes) / linger))
