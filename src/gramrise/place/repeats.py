"""Hours and weekdays that bring more lows or grams than the person's own average, by tests corrected for many looks.

Hours: each day of the season is turned by an hour drawn for it, which leaves no hour special; the highest count of all
windows is compared with the highest of each drawing. Weekdays, and parts of a weekday: the days change places. A
drawing is seeded, so that the same record gives the same answer.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from functools import cache
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from gramrise.place.settings import PlaceSettings

HOURS: Final = 24
WEEK: Final = 7
# Our choice: any fixed number gives the same answer to the same record.
SEED: Final = 20
# Drawings that are made at once; after each block it is asked whether the level can still be reached.
BLOCK: Final = 100

Floats = np.ndarray


class Repeats(StrEnum):
    """What repeats."""

    LOWS = "lows"
    GRAMS = "grams"


@dataclass(frozen=True, slots=True)
class Repeating:
    """A part of the day, or of the week, that brings more than its share."""

    what: Repeats
    weekday: int | None  # 0 is Monday; None: every day
    from_hour: int  # local, [from, to); 0 and 24: the whole day
    to_hour: int
    seen: float  # lows, or grams, in the season
    expected: float  # by the person's own average
    days: int  # days that the season holds of this kind
    chance: float  # that any part of the day or week stands out as far by chance


@dataclass(frozen=True, slots=True)
class Repeated:
    """What was found over a season; `judged` is False where the record is too short."""

    judged: bool
    days: int
    found: tuple[Repeating, ...] = ()


def repeating_hours(
    lows: Iterable[datetime],
    given: Iterable[tuple[datetime, float]],
    covered: set[date],
    last: date,
    zone: ZoneInfo,
    rules: PlaceSettings,
) -> Repeated:
    """The season that ends with the local day `last`, judged.

    lows      starts of the lows
    given     instants and grams of glucose logged
    covered   local days with readings enough; others are left out altogether
    """
    days = sorted(day for day in covered if last - timedelta(days=rules.repeat_season_days) < day <= last)
    if len(days) < rules.repeat_least_days:
        return Repeated(False, len(days))
    found: list[Repeating] = []
    for what, marks in ((Repeats.LOWS, [(at, 1.0) for at in lows]), (Repeats.GRAMS, list(given))):
        by_hour = _by_hour(marks, days, zone)
        if np.count_nonzero(by_hour) >= rules.repeat_least_marks:
            found += _hours(what, by_hour, rules)
            found += _weekdays(what, by_hour, days, rules)
    return Repeated(True, len(days), tuple(found))


def covered_days(readings: pl.DataFrame, zone: ZoneInfo, rules: PlaceSettings) -> set[date]:
    """Local days on which readings stand in most of the hours."""
    local = readings.select(at=pl.col("at_utc").dt.convert_time_zone(zone.key))
    hours = local.select(day=pl.col("at").dt.date(), hour=pl.col("at").dt.hour()).unique()
    counted = hours.group_by("day").len().filter(pl.col("len") >= rules.repeat_least_hours_a_day)
    return set(counted["day"].to_list())


def _by_hour(marks: list[tuple[datetime, float]], days: list[date], zone: ZoneInfo) -> Floats:
    """Sums by day and local hour, shape (days, 24)."""
    row = {day: nth for nth, day in enumerate(days)}
    sums = np.zeros((len(days), HOURS))
    for at, amount in marks:
        local = at.astimezone(zone)
        if local.date() in row:
            sums[row[local.date()], local.hour] += amount
    return sums


def _hours(what: Repeats, by_hour: Floats, rules: PlaceSettings) -> list[Repeating]:
    """The window of the day that stands out, where one does."""
    width = rules.repeat_window_hours
    windows = _windows(by_hour.sum(axis=0), width)
    best = int(windows.argmax())
    chance = _chance(float(windows[best]), _turned_days(by_hour, width, rules.repeat_drawings), rules)
    if chance is None:
        return []
    expected = float(by_hour.sum()) * width / HOURS
    end = (best + width) % HOURS or HOURS
    return [Repeating(what, None, best, end, float(windows[best]), expected, len(by_hour), chance)]


def _windows(sums: Floats, width: int) -> Floats:
    """Sums over `width` hours beginning with each hour, across midnight, too; along the last axis."""
    return np.asarray(sum(np.roll(sums, -step, axis=-1) for step in range(width)))


def _turned_days(by_hour: Floats, width: int, drawings: int) -> Iterator[Floats]:
    """The highest window of each drawing: every day turned by an hour of its own."""
    turns = _drawn_turns(len(by_hour), drawings)
    ring = np.concatenate([by_hour, by_hour], axis=1)
    rows = np.arange(len(by_hour))[None, :]
    for first in range(0, drawings, BLOCK):
        some = turns[first : first + BLOCK]
        sums = np.stack([ring[rows, some + hour].sum(axis=1) for hour in range(HOURS)], axis=1)
        yield _windows(sums, width).max(axis=1)


@cache
def _drawn_turns(days: int, drawings: int) -> Floats:
    return np.random.default_rng([SEED, days]).integers(HOURS, size=(drawings, days))


@cache
def _drawn_orders(days: int, drawings: int) -> Floats:
    rng = np.random.default_rng([SEED, days, 1])
    return np.argsort(rng.random((drawings, days)), axis=1)


def _weekdays(what: Repeats, by_hour: Floats, days: list[date], rules: PlaceSettings) -> list[Repeating]:
    """The weekday, or the part of one, that stands out against the same hours of other days."""
    weekday = np.array([day.weekday() for day in days])
    is_day = (weekday[:, None] == np.arange(WEEK)[None, :]).astype(float)  # (days, 7)
    share = is_day.mean(axis=0)
    parts = _parts_of_day(by_hour, rules.repeat_part_hours)  # (days, parts), the whole day first
    seen = is_day.T @ parts
    expected = share[:, None] * parts.sum(axis=0)[None, :]
    # A part's spread among days, so that a few large amounts are not taken for many.
    scale = np.sqrt(np.maximum(parts.var(axis=0)[None, :] * is_day.sum(axis=0)[:, None], 1e-9))
    standing = (seen - expected) / scale
    at_day, part = (int(n) for n in np.unravel_index(standing.argmax(), standing.shape))
    orders = _drawn_orders(len(days), rules.repeat_drawings)
    some = (orders[first : first + BLOCK] for first in range(0, rules.repeat_drawings, BLOCK))
    sums = (np.einsum("dw,ndp->nwp", is_day, parts[order], optimize=True) for order in some)
    drawn = (((each - expected) / scale).max(axis=(1, 2)) for each in sums)
    chance = _chance(float(standing[at_day, part]), drawn, rules)
    if chance is None:
        return []
    width = rules.repeat_part_hours
    begin, end = (0, HOURS) if part == 0 else ((part - 1) * width, part * width)
    marks = float(seen[at_day, part]), float(expected[at_day, part])
    return [Repeating(what, at_day, begin, end, *marks, int(is_day[:, at_day].sum()), chance)]


def _parts_of_day(by_hour: Floats, width: int) -> Floats:
    """The whole day and its parts of `width` hours, shape (days, 1 + parts)."""
    parts = by_hour.reshape(len(by_hour), HOURS // width, width).sum(axis=2)
    return np.concatenate([by_hour.sum(axis=1)[:, None], parts], axis=1)


def _chance(seen: float, drawn: Iterable[Floats], rules: PlaceSettings) -> float | None:
    """Share of drawings that stand out as far, the record itself counted among them; None where above the level.

    It ends as soon as the level cannot be reached any more, which for most records is after the first block.
    """
    as_far = 1
    for block in drawn:
        as_far += int(np.count_nonzero(block >= seen - 1e-9))
        if as_far > rules.repeat_level * (1 + rules.repeat_drawings):
            return None
    return as_far / (1 + rules.repeat_drawings)
