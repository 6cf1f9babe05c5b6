"""One person's readings as arrays: when, how much, how long each stands, and where the trace is broken by a gap."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.detect.settings import DetectSettings

US_PER_MINUTE: Final = 60_000_000
US_PER_DAY: Final = 24 * 60 * US_PER_MINUTE
LONGEST_STEP_MINUTES: Final = 20  # our choice: no sensor's usual step is longer; anything longer is a missed reading

Flags = NDArray[np.bool_]
Numbers = NDArray[np.float64]
Instants = NDArray[np.int64]  # microseconds since 1970 UTC; also row numbers


@dataclass(frozen=True, slots=True)
class Trace:
    """Readings in order of time, arrays of equal length.

    at_us          instant, microseconds since 1970 UTC, strictly ascending
    mg_dl          value; the bound where out of range
    below_range    the sensor showed 'below range': the true level lies under the bound
    step_minutes   the usual step around this reading
    stands_minutes how long the reading stands: until the next, at most one usual step
    starts         a gap, or nothing, lies before this reading
    """

    at_us: Instants
    mg_dl: Numbers
    below_range: Flags
    step_minutes: Numbers
    stands_minutes: Numbers
    starts: Flags
    gap_us: Instants  # the longest distance to the next reading that is not yet a gap

    def __len__(self) -> int:
        return len(self.at_us)

    def before(self, at_us: Instants) -> Instants:
        """Row of the last reading at or before each instant; -1 where there is none."""
        return np.searchsorted(self.at_us, at_us, "right") - 1

    def first_at(self, at_us: Instants) -> Instants:
        """Row of the first reading at or after each instant; len(self) where there is none."""
        return np.searchsorted(self.at_us, at_us, "left")


def instants(times: pl.Series) -> Instants:
    """A datetime[us, UTC] column without nulls as microseconds since 1970."""
    return np.asarray(times.to_numpy(), dtype="datetime64[us]").astype(np.int64)


def trace_of(readings: pl.DataFrame, settings: DetectSettings) -> Trace:
    """The trace of one person's READINGS, sorted by time."""
    at_us = instants(readings["at_utc"])
    step = usual_step(at_us, settings.step_unknown_minutes)
    gap_us = (np.maximum(settings.gap_minutes, settings.gap_steps * step) * US_PER_MINUTE).astype(np.int64)
    distance = np.diff(at_us)
    allowed = np.maximum(gap_us[:-1], gap_us[1:])
    starts = np.ones(len(at_us), dtype=np.bool_)
    starts[1:] = distance > allowed
    stands = step.copy()
    stands[:-1] = np.minimum(distance / US_PER_MINUTE, step[:-1])
    return Trace(
        at_us=at_us,
        mg_dl=readings["glucose_mg_dl"].to_numpy(),
        below_range=(readings["range"] == "below").to_numpy(),
        step_minutes=step,
        stands_minutes=stands,
        starts=starts,
        gap_us=gap_us,
    )


def usual_step(at_us: Instants, unknown_minutes: float) -> Numbers:
    """The usual step around each reading, whole minutes: half of the watched time runs in steps no longer than it.

    Looked at over the reading's UTC day and its neighbours, so that a change of sensor is followed and a day's answer
    never depends on readings of another week. Weighing by time keeps on-demand readings between 15-minute ones from
    shortening it.
    """
    if len(at_us) == 0:
        return np.empty(0)
    day = at_us // US_PER_DAY - at_us[0] // US_PER_DAY
    minutes = np.rint(np.diff(at_us) / US_PER_MINUTE).astype(np.int64)
    usable = (minutes >= 1) & (minutes <= LONGEST_STEP_MINUTES)
    width = LONGEST_STEP_MINUTES + 1
    days = int(day[-1]) + 1
    watched = np.bincount(day[:-1][usable] * width + minutes[usable], minutes[usable], minlength=days * width)
    by_day = watched.reshape(days, width)
    around = by_day.copy()
    around[1:] += by_day[:-1]
    around[:-1] += by_day[1:]
    summed = around.cumsum(axis=1)
    steps = (summed >= summed[:, -1:] / 2).argmax(axis=1).astype(np.float64)
    steps[summed[:, -1] == 0] = unknown_minutes
    return np.asarray(steps[day], dtype=np.float64)
