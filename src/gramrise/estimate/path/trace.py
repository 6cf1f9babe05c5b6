"""One person's readings as arrays of minutes, thinned where the sensor reads often."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import polars as pl

from gramrise.estimate.array_types import Array, Flags, Whole

MINUTE_US: Final = 60_000_000
DAY_MIN: Final = 1440


def minutes_of(times: pl.Series) -> Array:
    """Instants (none missing) as minutes since 1970, f64."""
    return times.to_numpy().astype("datetime64[us]").astype(np.int64) / MINUTE_US


@dataclass(frozen=True, slots=True)
class ThinnedTrace:
    """One person's readings as arrays, thinned to about one in `thin` minutes where the sensor reads more often."""

    at: Array
    value: Array
    below: Flags

    @classmethod
    def of(cls, readings: pl.DataFrame, thin_min: float) -> "ThinnedTrace":
        in_reach = readings["range"] != "above"
        usable = readings if in_reach.all() else readings.filter(in_reach)
        at, value = minutes_of(usable["at_utc"]), usable["glucose_mg_dl"].to_numpy().astype(float)
        below = (usable["range"] == "below").to_numpy()
        kept = _thinned(at, thin_min)
        return cls(at[kept], value[kept], below[kept])


def _thinned(at: Array, thin_min: float) -> Whole:
    """Rows to keep: of a UTC day with readings more often than that, the middle one in each `thin_min` minutes.

    Every day is thinned by itself, so that a window holds the same readings whichever other days are loaded.
    """
    often = thin_min - 1
    step = np.diff(at)
    if not (step < often).any():
        return np.arange(at.size)
    begins = np.flatnonzero(np.diff(np.floor(at / DAY_MIN), prepend=-1.0))
    kept = []
    for first, past in pairwise([*begins.tolist(), at.size]):
        thin = past - first > 2 and float(np.median(step[first : past - 1])) < often
        rows = _one_per_bin(np.floor(at[first:past] / thin_min)) if thin else np.arange(past - first)
        kept.append(first + rows)
    return np.concatenate(kept)


def _one_per_bin(bins: Array) -> Whole:
    """Index of the middle reading of each bin."""
    starts = np.flatnonzero(np.diff(bins, prepend=bins[0] - 1))
    ends = np.append(starts[1:], bins.size)
    middle: Whole = (starts + ends - 1) // 2
    return middle
