"""Untreated stretches: low-ish falling moments with nothing eaten near, taken as treatments of nothing."""

from datetime import timedelta
from typing import Final

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.words import EventKind
from gramrise.estimate.filter import Array
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.windows import MINUTE_US, Trace, minutes_of

# Our choice: moments at which glucose might have been given but was not.
HIGHEST_MG_DL: Final = 110.0
FALLING_MG_DL_PER_MIN: Final = -0.5
FALL_OVER_MIN: Final = 20.0
# Between neighbouring stretches, so that none is counted twice.
APART_MIN: Final = 120.0
# Nothing eaten from so long before to the end of the window.
EATEN_BEFORE_MIN: Final = 180.0
EATING: Final = (EventKind.FOOD, EventKind.GLUCAGON)


def untreated_stretches(inputs: Inputs, settings: PathSettings) -> pl.DataFrame:
    """Stretches in SCREENED's window columns: first_dose_utc is the moment, windows end where anything was eaten."""
    trace = Trace.of(inputs.readings, settings.thin_min)
    moments = _moments(trace)
    eaten = np.sort(
        np.concatenate(
            [
                minutes_of(inputs.doses["taken_at_utc"]),
                minutes_of(inputs.events.filter(pl.col("kind").is_in(EATING))["at_utc"]),
            ]
        )
    )
    before = np.searchsorted(eaten, moments, side="right")
    last = np.where(before > 0, eaten[(before - 1).clip(0)] if eaten.size else -np.inf, -np.inf)
    following = np.where(
        before < eaten.size, eaten[before.clip(0, max(eaten.size - 1, 0))] if eaten.size else np.inf, np.inf
    )
    keep = (moments - last > EATEN_BEFORE_MIN) & (following - moments > settings.tail_min)
    at = pl.Series((moments[keep] * MINUTE_US).astype(np.int64)).cast(pl.Datetime("us")).dt.replace_time_zone("UTC")
    return pl.DataFrame({"first_dose_utc": at}).with_columns(
        last_dose_utc=pl.col("first_dose_utc"),
        window_from_utc=pl.col("first_dose_utc") - timedelta(minutes=settings.run_in_min),
        window_to_utc=pl.col("first_dose_utc") + timedelta(minutes=settings.tail_min),
    )


def _moments(trace: Trace) -> Array:
    """Instants of falling low-ish readings, the first of each fall."""
    if trace.at.size < 3:
        return np.empty(0)
    back = np.searchsorted(trace.at, trace.at - FALL_OVER_MIN - 0.5)
    elapsed = trace.at - trace.at[back]
    slope = (trace.value - trace.value[back]) / np.maximum(elapsed, 1.0)
    fits = (trace.value <= HIGHEST_MG_DL) & (slope <= FALLING_MG_DL_PER_MIN) & (elapsed >= FALL_OVER_MIN / 2)
    moments, last = [], -np.inf
    for at in trace.at[fits]:
        if at - last >= APART_MIN:
            moments.append(at)
            last = at
    return np.array(moments)
