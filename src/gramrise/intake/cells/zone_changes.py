"""A zone's changes of clock over a span of wall times, found once, so that millions of rows need no search each."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from gramrise.domain.frames import UTC as UTC_TYPE

SECOND_US = 1_000_000
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Change:
    """One change of clock: the instant, and the offsets east of UTC before and after it, all in microseconds."""

    at_us: int
    before_us: int
    after_us: int

    @property
    def wall_us(self) -> int:
        """Wall time (as if UTC) up to which the old offset gives the earlier instant."""
        return self.at_us + self.before_us


@lru_cache(maxsize=256)
def changes(zone: ZoneInfo, first_year: int, last_year: int) -> tuple[int, tuple[Change, ...]]:
    """The offset at the start of `first_year` (microseconds), and every change until the end of `last_year`.

    Days on which a clock is put forth and back again would be missed; no zone has had one.
    """
    at = datetime(first_year, 1, 1, tzinfo=UTC)
    start = before = _offset_us(zone, at)
    found = []
    while at.year <= last_year:
        later = at + _DAY
        after = _offset_us(zone, later)
        if after != before:
            found.append(Change(_us(_exactly(zone, at, later, before)), before, after))
        at, before = later, after
    return start, tuple(found)


def _exactly(zone: ZoneInfo, low: datetime, high: datetime, before_us: int) -> datetime:
    """The first second of the new offset."""
    while high - low > timedelta(seconds=1):
        middle = low + (high - low) / 2
        middle = middle.replace(microsecond=0)
        low, high = (middle, high) if _offset_us(zone, middle) == before_us else (low, middle)
    return high


def _offset_us(zone: ZoneInfo, at: datetime) -> int:
    offset = at.astimezone(zone).utcoffset() or timedelta()
    return int(offset.total_seconds()) * SECOND_US


def _us(at: datetime) -> int:
    return int(at.timestamp()) * SECOND_US


def both_passes(local: pl.Series, zone: ZoneInfo) -> tuple[pl.Series, pl.Series]:
    """The earlier and the later instant of each wall time; they differ in a repeated hour, both null in a skipped one.

    local    datetime[us] without zone; null stays null
    returns  two datetime[us, UTC] columns
    """
    known = local.drop_nulls()
    if known.is_empty():
        nothing = pl.Series([None] * local.len(), dtype=UTC_TYPE)
        return nothing, nothing
    years = known.dt.year()
    lowest, highest = years.min(), years.max()
    assert isinstance(lowest, int)
    assert isinstance(highest, int)
    if not 1900 < lowest <= highest < 2200:  # placeholders far away: the slow way, which knows all of history
        return _slowly(local, zone, "earliest"), _slowly(local, zone, "latest")
    start, steps = changes(zone, lowest - 1, highest + 1)
    walls = local.to_physical().fill_null(int(known.to_physical()[0])).to_numpy()
    near = [step for step in steps if _span(step)[0] <= walls.max() and _span(step)[1] >= walls.min()]
    breaks = np.array([step.wall_us for step in steps], dtype=np.int64)
    offsets = np.array([start, *(step.after_us for step in steps)], dtype=np.int64)
    first = walls - offsets[np.searchsorted(breaks, walls, side="right")]
    second, gone = first, local.is_null()
    for step in near:
        begin, end = _span(step)
        inside = (walls >= begin) & (walls < end)
        if step.after_us > step.before_us:
            gone |= pl.Series(inside)
        else:
            second = np.where(inside, walls - step.after_us, second)
    earlier = _instants(first, gone)
    return earlier, earlier if second is first else _instants(second, gone)


def _span(step: Change) -> tuple[int, int]:
    """The wall times that come twice, or never, at a change: [begin, end)."""
    begin, end = sorted((step.wall_us, step.at_us + step.after_us))
    return begin, end


def _instants(values: np.ndarray[tuple[int], np.dtype[np.int64]], gone: pl.Series) -> pl.Series:
    instants = pl.Series(values).cast(UTC_TYPE)
    return instants.set(gone, None) if gone.any() else instants


def _slowly(local: pl.Series, zone: ZoneInfo, which: str) -> pl.Series:
    frame = pl.DataFrame({"local": local.cast(pl.Datetime("us"))})
    placed = pl.col("local").dt.replace_time_zone(zone.key, ambiguous=which, non_existent="null")  # type: ignore[arg-type]
    return frame.select(placed.dt.convert_time_zone("UTC").cast(UTC_TYPE)).to_series()
