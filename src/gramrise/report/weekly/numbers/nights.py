"""The week of a report: seven nights from noon to noon on the person's clock, and the trace cut to them."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import accumulate, pairwise
from math import ceil
from statistics import median
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from gramrise.detect.trace import US_PER_MINUTE, Trace
from gramrise.domain.bands import TimeBand
from gramrise.domain.person import Dated, noon_there, zone_on
from gramrise.report.weekly.numbers.view import Point, Tick

NIGHTS: Final = 7


@dataclass(frozen=True, slots=True)
class Noons:
    """One noon to the next: [from_utc, to_utc)."""

    begins: date
    from_utc: datetime
    to_utc: datetime

    @property
    def minutes(self) -> float:
        return minutes_between(self.from_utc, self.to_utc)

    def until(self, now_utc: datetime) -> "Noons":
        """As much of it as has passed by an instant; nothing of it gives a stretch of no length."""
        return Noons(self.begins, self.from_utc, max(self.from_utc, min(self.to_utc, now_utc)))

    def minute(self, at_utc: datetime) -> float:
        """Real minutes after the first noon, to a tenth."""
        return round(minutes_between(self.from_utc, at_utc), 1)


@dataclass(frozen=True, slots=True)
class Night:
    """The band that holds the small hours, on the clocks of the places where the person was."""

    zones: Dated[ZoneInfo]
    band: TimeBand

    def meets(self, from_utc: datetime, to_utc: datetime | None) -> bool:
        """Whether any minute of [from_utc, to_utc) lies in it; without an end, whether the first one does."""
        whole = max(1, ceil(minutes_between(from_utc, to_utc or from_utc)))
        at = (from_utc.astimezone(UTC) + timedelta(minutes=minute) for minute in range(whole))
        return any(self.band.holds(local_clock(self.zones, instant)) for instant in at)


def minutes_between(from_utc: datetime, to_utc: datetime) -> float:
    return (to_utc - from_utc).total_seconds() / 60


def local_clock(zones: Dated[ZoneInfo], at_utc: datetime) -> time:
    """The clock time of an instant where the person was."""
    return at_utc.astimezone(zone_on(zones, at_utc)).time()


def nights_to(week_end: date, zones: Dated[ZoneInfo]) -> tuple[Noons, ...]:
    """The seven stretches from noon to noon that end at noon of `week_end`, oldest first.

    Each noon is that of the place of its day, so that weeks join; one that a flight left out has no length.
    """
    days = [week_end - timedelta(days=back) for back in range(NIGHTS, -1, -1)]
    noons = list(accumulate((noon_there(zones, day) for day in days), max))
    return tuple(Noons(day, start, end) for day, (start, end) in zip(days, pairwise(noons), strict=False))


def rows_within(frame: pl.DataFrame, column: str, from_utc: datetime, to_utc: datetime) -> pl.DataFrame:
    """Rows whose instant in `column` lies in [from_utc, to_utc)."""
    return frame.filter((pl.col(column) >= from_utc) & (pl.col(column) < to_utc))


def pieces(trace: Trace, noons: Noons, lowest: float, highest: float) -> tuple[tuple[Point, ...], ...]:
    """The trace of one strip, broken at gaps, levels held within [lowest, highest]; values to 0.1 mg/dL."""
    found: list[list[Point]] = []
    for row in _rows(trace, noons):
        if trace.starts[row] or not found:
            found.append([])
        minute = (int(trace.at_us[row]) - _us(noons.from_utc)) / US_PER_MINUTE
        found[-1].append((round(minute, 1), round(min(max(float(trace.mg_dl[row]), lowest), highest), 1)))
    return tuple(tuple(piece) for piece in found)


def readings_between(trace: Trace, from_utc: datetime, to_utc: datetime) -> tuple[Point, ...]:
    """(minutes after `from_utc`, mg/dL) of each reading in [from_utc, to_utc)."""
    start = _us(from_utc)
    first, last = trace.first_at(np.array([start, _us(to_utc)]))
    return tuple(
        ((int(trace.at_us[row]) - start) / US_PER_MINUTE, float(trace.mg_dl[row])) for row in range(first, last)
    )


def stretches_above(trace: Trace, noons: Noons, highest: float) -> tuple[tuple[float, float], ...]:
    """Minutes of one strip during which readings stand above `highest`; neighbouring readings make one stretch."""
    found: list[tuple[float, float]] = []
    for row in _rows(trace, noons):
        if trace.mg_dl[row] <= highest:
            continue
        start = (int(trace.at_us[row]) - _us(noons.from_utc)) / US_PER_MINUTE
        end = min(start + float(trace.stands_minutes[row]), noons.minutes)
        joins = found and start - found[-1][1] <= float(trace.step_minutes[row]) / 2
        begins = found.pop()[0] if joins else start
        found.append((round(begins, 1), round(end, 1)))
    return tuple(found)


def covered(trace: Trace, noons: Noons) -> tuple[float, float]:
    """(share of the time for which a reading stands, longest stretch without a reading in minutes)."""
    rows = _rows(trace, noons)
    start, end = _us(noons.from_utc), _us(noons.to_utc)
    times = [int(trace.at_us[row]) for row in rows]
    stands = sum(
        min(float(trace.stands_minutes[r]), (end - at) / US_PER_MINUTE) for r, at in zip(rows, times, strict=True)
    )
    longest = max(b - a for a, b in pairwise([start, *times, end])) / US_PER_MINUTE
    return round(stands / noons.minutes, 4) if noons.minutes else 0.0, round(longest, 1)


def usual_step_minutes(trace: Trace, nights: tuple[Noons, ...]) -> float | None:
    """The step at which most readings of the week come, minutes; None without readings."""
    steps = [float(trace.step_minutes[row]) for noons in nights for row in _rows(trace, noons)]
    return median(steps) if steps else None


def readings_n(trace: Trace, noons: Noons) -> int:
    return len(_rows(trace, noons))


def _rows(trace: Trace, noons: Noons) -> range:
    first, last = trace.first_at(np.array([_us(noons.from_utc), _us(noons.to_utc)]))
    return range(int(first), int(last))


def _us(at_utc: datetime) -> int:
    return int((at_utc - datetime(1970, 1, 1, tzinfo=UTC)) / timedelta(microseconds=1))


def ticks(noons: Noons, zones: Dated[ZoneInfo]) -> tuple[Tick, ...]:
    """Every third full hour of the local clock; an hour that comes twice is marked once."""
    found: list[Tick] = []
    for minute in range(0, int(noons.minutes) + 1, 30):
        local = local_clock(zones, noons.from_utc + timedelta(minutes=minute))
        if local.minute == 0 and local.hour % 3 == 0 and not (found and found[-1].hour == local.hour):
            found.append(Tick(minute=float(minute), hour=local.hour))
    return tuple(found)


def night_minutes(noons: Noons, zones: Dated[ZoneInfo], band: TimeBand) -> tuple[tuple[float, float], ...]:
    """The stretches of the strip that lie in `band`, to the minute of the local clock."""
    inside = [
        band.holds(local_clock(zones, noons.from_utc + timedelta(minutes=minute)))
        for minute in range(int(noons.minutes))
    ]
    if not inside:  # a day left out of the calendar
        return ()
    edges = [i for i in range(1, len(inside)) if inside[i] != inside[i - 1]]
    bounds = [0, *edges, len(inside)]
    return tuple((float(a), float(b)) for a, b in pairwise(bounds) if inside[a])
