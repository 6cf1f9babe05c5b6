"""effective_time_frame: one instant, or an interval in one of its written forms."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any, Final

from gramrise.connectors.open_mhealth.shapes import UnitValue, modelled, read_time
from gramrise.connectors.standards import Hold, Instant

# Months and years have no fixed length and are refused. Source: duration-unit-value of the schemas.
_SECONDS: Final = {"ps": 1e-12, "ns": 1e-9, "us": 1e-6, "ms": 1e-3, "sec": 1.0, "min": 60.0, "h": 3600.0,
                   "d": 86400.0, "wk": 604800.0}  # fmt: skip
_LONGEST_SECONDS: Final = 366 * 86400.0  # our choice: nothing that is read lasts a year
FROM_INTERVAL_END: Final = "time_from_period_end"


@dataclass(frozen=True, slots=True)
class TimeFrame:
    """When it was: an instant, or the start and end of an interval."""

    start: Instant
    end: Instant
    interval: bool


def read_time_frame(body: dict[str, Any]) -> TimeFrame:
    """The time frame of a body. Raises Hold: none, not one form, a day or part of a day alone, end before start."""
    frame = body.get("effective_time_frame")
    if frame is None:
        raise Hold("no_time", "effective_time_frame")
    if not isinstance(frame, dict) or ("date_time" in frame) == ("time_interval" in frame):
        raise Hold("not_the_standard", "effective_time_frame", "it needs exactly one of date_time and time_interval")
    if "date_time" in frame:
        at = read_time(frame["date_time"], "effective_time_frame.date_time")
        return TimeFrame(at, at, interval=False)
    return _interval(frame["time_interval"])


def _interval(raw: object) -> TimeFrame:
    where = "effective_time_frame.time_interval"
    if not isinstance(raw, dict):
        raise Hold("not_the_standard", where)
    if "date" in raw or "part_of_day" in raw:
        raise Hold("no_time_of_day", where, raw.get("date"))
    names = [name for name in ("start_date_time", "end_date_time", "duration") if name in raw]
    if len(names) != 2:
        raise Hold("not_the_standard", where, "it needs two of start_date_time, end_date_time and duration")
    start = read_time(raw["start_date_time"], f"{where}.start_date_time") if "start_date_time" in raw else None
    end = read_time(raw["end_date_time"], f"{where}.end_date_time") if "end_date_time" in raw else None
    if start is not None and end is not None:
        if end.utc < start.utc:
            raise Hold("time_reversed", where, raw["end_date_time"])
        return TimeFrame(start, end, interval=True)
    lasts = _lasts(raw["duration"], f"{where}.duration")
    if end is not None:
        return TimeFrame(Instant(end.utc - lasts, end.offset_minutes), end, interval=True)
    assert start is not None  # two of three are there
    return TimeFrame(start, Instant(start.utc + lasts, start.offset_minutes), interval=True)


def _lasts(raw: object, where: str) -> timedelta:
    duration = modelled(UnitValue, raw, where)
    if duration.unit not in _SECONDS:
        raise Hold("unit_unknown", where, duration.unit)
    seconds = float(duration.value) * _SECONDS[duration.unit]
    if not 0 <= seconds <= _LONGEST_SECONDS:
        raise Hold("amount_implausible", where, duration.value)
    return timedelta(seconds=seconds)
