"""Untreated stretches: from a moment when the level is rather low and falling until something is eaten."""

from datetime import timedelta

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.words import EventKind
from gramrise.estimate.array_types import Array
from gramrise.estimate.path.trace import MINUTE_US, ThinnedTrace, minutes_of
from gramrise.estimate.path_settings import PathSettings, StretchSettings

EATING = (EventKind.FOOD, EventKind.GLUCAGON)


def untreated_stretches(inputs: Inputs, settings: PathSettings) -> pl.DataFrame:
    """Stretches in the window columns of SCREENED: first_dose_utc is the moment, windows end before anything eaten.

    A stretch that ends in a treatment is kept up to that treatment, so stretches are not chosen by how they end. A
    stop that was decided from the readings so far does not bias the likelihood.
    """
    rules = settings.stretches
    moments = _moments(ThinnedTrace.of(inputs.readings, settings.thin_min), rules)
    food = inputs.events.filter(pl.col("kind").is_in(EATING))
    eaten = np.sort(np.concatenate([minutes_of(inputs.doses["taken_at_utc"]), minutes_of(food["at_utc"])]))
    padded = np.concatenate([[-np.inf], eaten, [np.inf]])
    at = np.searchsorted(eaten, moments, side="right")
    since, until = moments - padded[at], padded[at + 1] - rules.times_unsure_min
    kept = (since > rules.eaten_before_min) & (until - moments >= rules.least_after_min)
    end = np.minimum(until, moments + settings.tail_min)[kept]
    return pl.DataFrame({"first_dose_utc": _instants(moments[kept]), "window_to_utc": _instants(end)}).with_columns(
        last_dose_utc=pl.col("first_dose_utc"),
        window_from_utc=pl.col("first_dose_utc") - timedelta(minutes=settings.run_in_min),
    )


def _instants(minutes: Array) -> pl.Series:
    return pl.Series((minutes * MINUTE_US).astype(np.int64)).cast(pl.Datetime("us")).dt.replace_time_zone("UTC")


def _moments(trace: ThinnedTrace, rules: StretchSettings) -> Array:
    """Minutes at which the level is rather low and falling, readings in range, well apart."""
    if trace.at.size < 3:
        return np.empty(0)
    back = np.searchsorted(trace.at, trace.at - rules.fall_over_min - 0.5)
    elapsed = trace.at - trace.at[back]
    slope = (trace.value - trace.value[back]) / np.maximum(elapsed, 1.0)
    fits = (trace.value <= rules.highest_mg_dl) & (slope <= rules.falling_mg_dl_per_min) & ~trace.below
    fits &= elapsed >= rules.fall_over_min / 2
    moments, last = [], -np.inf
    for at in trace.at[fits]:
        if at - last >= rules.apart_min:
            moments.append(at)
            last = at
    return np.array(moments)
