"""What the trace itself shows at a treatment: the level at its start, the slope before, the highest reading after."""

from dataclasses import dataclass

import numpy as np

from gramrise.detect.settings import DetectSettings
from gramrise.detect.trace import US_PER_MINUTE, Instants, Numbers, Trace


@dataclass(frozen=True, slots=True)
class Seen:
    """Arrays over instants; NaN where the trace does not show it.

    start_mg_dl              last reading at or before, within 20 minutes
    slope_mg_dl_per_min      least squares over the last 20 minutes or 3 usual steps, from 3 readings on
    change_mg_dl_per_min     the same where known, else from the last two readings
    rise_mg_dl               highest reading 20-75 minutes after, minus start
    risen_before_mg_dl       start minus the lowest reading of the last 25 minutes
    lowest_before_mg_dl      that lowest reading
    """

    start_mg_dl: Numbers
    slope_mg_dl_per_min: Numbers
    change_mg_dl_per_min: Numbers
    rise_mg_dl: Numbers
    risen_before_mg_dl: Numbers
    lowest_before_mg_dl: Numbers


def what_is_seen(trace: Trace, at_us: Instants, settings: DetectSettings) -> Seen:
    """The trace around each instant."""
    found = [_at(trace, int(at), settings) for at in at_us]
    table = np.array(found, dtype=np.float64).reshape(-1, 5)
    start, slope, change, highest, lowest = table.T
    return Seen(start, slope, change, highest - start, start - lowest, lowest)


def _at(trace: Trace, at_us: int, settings: DetectSettings) -> tuple[float, float, float, float, float]:
    """Start, slope, change, highest after and lowest before of one instant; NaN for what is not seen."""
    nan = float("nan")
    past = int(np.searchsorted(trace.at_us, at_us, "right"))
    after = _between(trace, at_us, settings.rise_from_minutes, settings.rise_to_minutes)
    highest = float(after.max()) if len(after) else nan
    if past == 0 or at_us - trace.at_us[past - 1] > settings.start_within_minutes * US_PER_MINUTE:
        return nan, nan, nan, highest, nan
    last = past - 1
    minutes = max(settings.slope_minutes, settings.slope_steps * float(trace.step_minutes[last]))
    first = int(np.searchsorted(trace.at_us, at_us - int(minutes * US_PER_MINUTE), "left"))
    slope = _least_squares(trace, first, past) if past - first >= settings.slope_readings else nan
    change = slope if not np.isnan(slope) or last == 0 else _least_squares(trace, last - 1, past)
    early = int(np.searchsorted(trace.at_us, at_us - int(settings.early_rise_minutes * US_PER_MINUTE), "left"))
    return float(trace.mg_dl[last]), slope, change, highest, float(trace.mg_dl[early:past].min())


def _between(trace: Trace, at_us: int, from_minutes: float, to_minutes: float) -> Numbers:
    """Values from `from_minutes` to `to_minutes` after an instant, both included."""
    first = np.searchsorted(trace.at_us, at_us + int(from_minutes * US_PER_MINUTE), "left")
    past = np.searchsorted(trace.at_us, at_us + int(to_minutes * US_PER_MINUTE), "right")
    return trace.mg_dl[first:past]


def _least_squares(trace: Trace, first: int, past: int) -> float:
    """Slope of a straight line through the readings of rows first..past-1, mg/dL per minute."""
    minutes = (trace.at_us[first:past] - trace.at_us[first]) / US_PER_MINUTE
    centred = minutes - minutes.mean()
    return float(centred @ trace.mg_dl[first:past] / (centred @ centred))
