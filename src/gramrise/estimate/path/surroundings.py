"""What logged insulin and food do around each treatment, minute by minute."""

from collections.abc import Callable

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.insulin import RAPID_INSULIN
from gramrise.domain.words import EventKind
from gramrise.estimate.array_types import Array, Whole
from gramrise.estimate.path.trace import minutes_of
from gramrise.estimate.path_settings import PathSettings


def insulin_acting(inputs: Inputs, first: Array, settings: PathSettings) -> Array:
    """[B, M] units of logged rapid insulin acting per minute; a dose acts only after its own minute."""
    events = inputs.events
    given = events.filter((events["kind"] == EventKind.INSULIN) & events["amount"].is_not_null())
    return _spread(given, first, settings, settings.insulin.action_end_min, RAPID_INSULIN.acting_per_minute)


def food_appearing(inputs: Inputs, first: Array, settings: PathSettings) -> Array:
    """[B, M] grams of logged carbohydrate appearing per minute, by the gut chain with a meal's time constant."""
    events = inputs.events
    eaten = events.filter((events["kind"] == EventKind.FOOD) & (events["amount"] > 0).fill_null(value=False))
    gut = settings.insulin.meal_gut_min

    def appearing(minutes: Array) -> Array:
        since = np.maximum(minutes, 0.0)
        return since / gut**2 * np.exp(-since / gut)

    return _spread(eaten, first, settings, settings.insulin.meal_end_min, appearing)


def _spread(
    events: pl.DataFrame, first: Array, settings: PathSettings, end_min: float, rate: Callable[[Array], Array]
) -> Array:
    """Sum over events of amount x rate(minutes since), for each window and minute from the start of its run-in."""
    out = np.zeros((first.size, settings.window_minutes))
    at = minutes_of(events["at_utc"])
    order = np.argsort(at, kind="stable")
    at, amount = at[order], events["amount"].to_numpy().astype(float)[order]
    begin = first - settings.run_in_min
    low, high = np.searchsorted(at, begin - end_min), np.searchsorted(at, begin + settings.window_minutes)
    window, event = _pairs(low, high)
    if window.size:
        since = begin[window, None] + np.arange(settings.window_minutes)[None, :] - at[event][:, None]
        starts = np.flatnonzero(np.diff(window, prepend=-1))  # pairs stand in the order of windows
        out[window[starts]] = np.add.reduceat(amount[event][:, None] * rate(since), starts, axis=0)
    return out


def _pairs(low: Whole, high: Whole) -> tuple[Whole, Whole]:
    """All (window, event) with low <= event < high."""
    count = np.maximum(high - low, 0)
    window = np.repeat(np.arange(low.size), count)
    within = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return window, low[window] + within
