"""Time bands: named parts of the local day, [start, end), read on the person's own clock."""

from dataclasses import dataclass
from datetime import datetime, time
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from gramrise.domain.problems import WrongUse

if TYPE_CHECKING:
    import polars as pl

MINUTES_IN_A_DAY: Final = 24 * 60


@dataclass(frozen=True, slots=True)
class TimeBand:
    """A named part of the local day. `start` belongs to it, `end` does not; it may run across midnight."""

    name: str
    start: time
    end: time

    @property
    def hours(self) -> str:
        """The band's hours as printed wherever its name is: '22:00-07:00'."""
        return f"{self.start:%H:%M}-{self.end:%H:%M}"

    def holds(self, local: time) -> bool:
        """Whether a local wall-clock time lies in the band. Both passes of a repeated hour do, or neither."""
        at, start, end = (_minute(t) for t in (local, self.start, self.end))
        return start <= at < end if start < end else at >= start or at < end


# Our choice: the usual waking and sleeping hours of a school child; a person may set others.
DEFAULT_BANDS: Final = (
    TimeBand("daytime", time(7), time(22)),
    TimeBand("overnight", time(22), time(7)),
)


def check_bands(bands: tuple[TimeBand, ...]) -> tuple[TimeBand, ...]:
    """The bands, if every minute of the local day lies in exactly one; else raises WrongUse naming the minute."""
    if len({band.name for band in bands}) != len(bands):
        raise WrongUse("two time bands carry the same name", "give each band its own name")
    for minute in range(MINUTES_IN_A_DAY):
        local = time(minute // 60, minute % 60)
        holding = [band.name for band in bands if band.holds(local)]
        if len(holding) != 1:
            named = "no time band" if not holding else " and ".join(holding)
            raise WrongUse(f"{local:%H:%M} lies in {named}", "let the bands cover each minute of the day exactly once")
    return bands


def band_at(at_utc: datetime, zone: ZoneInfo, bands: tuple[TimeBand, ...]) -> TimeBand:
    """The band that holds an aware instant, read on the clock of `zone`."""
    local = at_utc.astimezone(zone).time()
    return next(band for band in bands if band.holds(local))


def band_expression(at_utc: str, zone: ZoneInfo, bands: tuple[TimeBand, ...]) -> "pl.Expr":
    """The band's name for a datetime[us, UTC] column named `at_utc`; str, never null where the instant is not."""
    import polars as pl  # here: a command that only reads a person must not load it

    local = pl.col(at_utc).dt.convert_time_zone(zone.key)
    minute = local.dt.hour().cast(pl.Int32) * 60 + local.dt.minute().cast(pl.Int32)
    chosen = pl.lit(None, dtype=pl.String)
    for band in bands:
        start, end = _minute(band.start), _minute(band.end)
        inside = (minute >= start) & (minute < end) if start < end else (minute >= start) | (minute < end)
        chosen = pl.when(inside).then(pl.lit(band.name)).otherwise(chosen)
    return chosen


def _minute(at: time) -> int:
    return at.hour * 60 + at.minute
