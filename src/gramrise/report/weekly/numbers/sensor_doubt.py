"""Which lows may be called lying on the sensor: only a sudden drop after which the earlier level came back.

A low is real until shown otherwise. A wrong "it was the sensor" hides a night that somebody should know of.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from statistics import median
from typing import Any, Final

from gramrise.detect.trace import Trace
from gramrise.report.weekly.numbers.nights import readings_between
from gramrise.report.weekly.numbers.view import Point
from gramrise.report.weekly.settings import ReportSettings

# The drop is timed between a fifth and four fifths of its depth, as rise times usually are: its ends are noise.
DROP_EDGE: Final = 0.2


def lain_upon(low: dict[str, Any], trace: Trace, settings: ReportSettings) -> bool:
    """Whether a low may be called lying on the sensor.

    low      a row of LOWS
    returns  true where detection is sure of it, the drop was sudden, and the earlier level came back
    """
    if low["outcome"] != "sensor_doubt" or (low["probability_dip"] or 0.0) < settings.least_dip_probability:
        return False
    start, end = low["start_utc"], low["end_utc"]
    if end is None or low["ended_by_gap"]:
        return False
    around = timedelta(minutes=settings.earlier_level_minutes)
    before = _levels(readings_between(trace, start - around, start))
    after = _levels(readings_between(trace, end, end + around))
    if not before or not after:
        return False
    earlier = median(before)
    came_back = abs(median(after) - earlier) <= settings.earlier_level_within_mg_dl
    return came_back and _drop_minutes(low, trace, around, earlier) <= settings.sudden_drop_minutes


def _drop_minutes(low: dict[str, Any], trace: Trace, around: timedelta, earlier: float) -> float:
    """Minutes from the last reading in the upper fifth of the drop to the first one in its lowest fifth."""
    nadir_at: datetime = low["nadir_at_utc"]
    falling = readings_between(trace, low["start_utc"] - around, nadir_at + timedelta(microseconds=1))
    depth = earlier - low["nadir_mg_dl"]
    high = [minute for minute, level in falling if level >= earlier - DROP_EDGE * depth]
    deep = [minute for minute, level in falling if level <= low["nadir_mg_dl"] + DROP_EDGE * depth]
    return deep[0] - high[-1] if high and deep and high[-1] < deep[0] else float("inf")


def _levels(readings: Sequence[Point]) -> list[float]:
    return [level for _, level in readings]
