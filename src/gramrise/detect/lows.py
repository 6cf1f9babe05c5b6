"""Lows by the consensus rule: 15 minutes below 70 mg/dL start one, 15 minutes at or above 70 end it."""

from dataclasses import dataclass
from enum import IntEnum
from typing import Final

import numpy as np

from gramrise.detect.settings import DetectSettings
from gramrise.detect.trace import US_PER_MINUTE, Flags, Instants, Numbers, Trace

# Our choice: four times what ends a low, so that a coarse sensor shows it too.
SETTLED_US: Final = 60 * US_PER_MINUTE


class Ending(IntEnum):
    """How the trace shows the end of a low."""

    RETURNED = 0  # 15 minutes at or above 70 were seen
    GAP = 1  # the trace broke off before
    OPEN = 2  # the trace ends here and now


@dataclass(frozen=True, slots=True)
class LowEvents:
    """Lows in order of time; arrays of equal length.

    first, past    rows of the trace: first reading below; first reading that no longer belongs to it
    start_us       instant of the first reading below
    end_us         instant of the first reading of those that ended it, or where the trace broke off or now ends
    ending         Ending
    """

    first: Instants
    past: Instants
    start_us: Instants
    end_us: Instants
    ending: Instants

    def __len__(self) -> int:
        return len(self.first)


def low_events(trace: Trace, now_us: int, threshold_mg_dl: float, settings: DetectSettings) -> LowEvents:
    """Every event below `threshold_mg_dl`: starts and ends after `low_minutes`, never across a gap.

    A reading below the sensor's range is below the threshold when its bound is at or under it.
    """
    if len(trace) == 0:
        nothing = np.empty(0, dtype=np.int64)
        return LowEvents(nothing, nothing, nothing, nothing, nothing)
    below = trace.mg_dl < threshold_mg_dl
    below |= trace.below_range & (trace.mg_dl <= threshold_mg_dl)
    run, long_below, long_above = _long_runs(trace, below, settings)
    first, past, returned = _join_runs(trace, run, long_below, long_above)
    last = past - 1
    broke_us = trace.at_us[last] + (trace.stands_minutes[last] * US_PER_MINUTE).astype(np.int64)
    end_us = np.where(returned, trace.at_us[np.minimum(past, len(trace) - 1)], broke_us)
    at_the_end = (past == len(trace)) & (now_us - trace.at_us[last] <= trace.gap_us[last])
    ending = np.where(returned, Ending.RETURNED, np.where(at_the_end, Ending.OPEN, Ending.GAP)).astype(np.int64)
    return LowEvents(first, past, trace.at_us[first], end_us, ending)


def settled_within(trace: Trace, from_us: int, to_us: int, settings: DetectSettings) -> bool:
    """Whether no low can reach across the span [from, to): it holds a gap, or an hour above that would end any low."""
    inside = slice(*np.searchsorted(trace.at_us, [from_us, to_us]).tolist())
    if inside.start == inside.stop or trace.starts[inside].any():
        return True
    below = trace.mg_dl < settings.low_mg_dl
    run, _, long_above = _long_runs(trace, below, settings)
    last = np.append(run[1:], len(trace)) - 1
    shared = np.minimum(trace.at_us[last], to_us) - np.maximum(trace.at_us[run], from_us)
    return bool((long_above & (shared >= SETTLED_US)).any())


def _long_runs(trace: Trace, below: Flags, settings: DetectSettings) -> tuple[Instants, Flags, Flags]:
    """First rows of runs on one side of the threshold, and which runs are long enough, below and at or above."""
    turns = trace.starts.copy()
    turns[1:] |= below[1:] != below[:-1]
    run = np.flatnonzero(turns)
    seen = np.add.reduceat(trace.stands_minutes, run)
    long_enough = seen >= settings.low_minutes - settings.jitter_seconds / 60
    return run, long_enough & below[run], long_enough & ~below[run]


def _join_runs(trace: Trace, run: Instants, long_below: Flags, long_above: Flags) -> tuple[Instants, Instants, Flags]:
    """Events from a long run below to the next long run above within the same stretch: (first, past, returned)."""
    stretch = np.cumsum(trace.starts)[run]
    telling = np.flatnonzero(long_below | long_above)
    is_low = long_below[telling]
    same = np.zeros(len(telling), dtype=np.bool_)
    same[1:] = stretch[telling[1:]] == stretch[telling[:-1]]
    begins = is_low.copy()
    begins[1:] &= ~(is_low[:-1] & same[1:])
    opening = np.flatnonzero(begins)
    # The next telling run above, in the same stretch, ends it; else the stretch's last reading does.
    above = np.flatnonzero(~is_low)
    following = np.searchsorted(above, opening)
    has = following < len(above)
    candidate = above[np.minimum(following, len(above) - 1)] if len(above) else np.zeros_like(opening)
    returned = has & (stretch[telling[candidate]] == stretch[telling[opening]])
    stretch_end = np.append(np.flatnonzero(trace.starts)[1:], len(trace))[stretch[telling[opening]] - 1]
    past = np.where(returned, run[telling[candidate]], stretch_end)
    return run[telling[opening]], past, returned


def lowest(trace: Trace, events: LowEvents) -> tuple[Numbers, Instants]:
    """Lowest value of each low, mg/dL, and the row of its first occurrence."""
    if len(events) == 0:
        return np.empty(0), np.empty(0, dtype=np.int64)
    rows = [
        first + int(np.argmin(trace.mg_dl[first:past])) for first, past in zip(events.first, events.past, strict=True)
    ]
    at = np.array(rows, dtype=np.int64)
    return trace.mg_dl[at], at


def holds_one_of(events: LowEvents, inner: LowEvents) -> Flags:
    """Which lows hold the start of an event of a deeper threshold."""
    begun = np.searchsorted(inner.first, events.first)
    return np.asarray(np.searchsorted(inner.first, events.past) > begun, dtype=np.bool_)
