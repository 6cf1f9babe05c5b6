"""Supplies in the weekly report, as numbers and codes: stock, tins against the log, weak glucose, hours that repeat."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.mixtures import MixedBatch
from gramrise.place import PlacedCount, Repeated, WeakGlucose
from gramrise.report.weekly.numbers.part import Part
from gramrise.report.weekly.settings import ReportSettings
from gramrise.supplies import StockLine, StockState

DAYS_OF_WEEK = 7
SATURDAY = 5


@dataclass(frozen=True, slots=True)
class SuppliesWeek:
    """What the supplies of one person are made from, as the rooms below hand it over."""

    stock: Sequence[StockLine] = ()
    batches: Sequence[MixedBatch] = ()
    placed: Sequence[PlacedCount] = ()
    weak: Sequence[WeakGlucose] = ()
    repeated: Repeated | None = None
    unnamed_grams: float = 0.0  # logged without a source in the last `unnamed_days`
    unnamed_days: int = 0


class StockView(Part):
    """What is on hand of one source, everywhere together. Dates are local."""

    source: str
    unit: str  # piece | mL
    home_mixed: bool
    state: str  # enough | act | past its days | count again
    on_hand: float | None
    per_day: float | None
    mixed_on: date | None
    lasts_until: date | None
    use_by: date | None
    act_by: date | None


class CountedDay(Part):
    """One local day, midnight to midnight: grams logged, and grams gone from tins that nobody logged."""

    day: date
    logged_grams: float
    gone_grams: float
    school_logged_grams: float | None  # null on days without school hours
    school_gone_grams: float | None


class WeakView(Part):
    """A source, or a bottle of it, whose glucose works less than the person's other glucose."""

    source: str
    batch: int | None
    mixed_on: date | None
    ratio: float
    low_ratio: float
    high_ratio: float
    probability: float
    uses: int
    causes: tuple[str, ...]


class RepeatingView(Part):
    """A part of the day or week that brings more than the person's own average."""

    what: str  # lows | grams
    weekday: int | None  # 0 is Monday
    from_hour: int
    to_hour: int
    seen: float
    expected: float


class SuppliesView(Part):
    """All of it; `season_days` is 0 where the record is too short to say whether hours repeat."""

    stock: tuple[StockView, ...]
    unnamed_grams: float  # logged without a source in the last `unnamed_days`, so taken off no stock
    unnamed_days: int
    days: tuple[CountedDay, ...]  # empty where nothing was counted in the week
    weak: tuple[WeakView, ...]
    season_days: int
    repeating: tuple[RepeatingView, ...]


def supplies_view(
    inputs: Inputs, week: SuppliesWeek, week_end: date, zone: ZoneInfo, settings: ReportSettings
) -> SuppliesView | None:
    """The supplies of the seven local days before `week_end`; None where there is nothing to tell."""
    days = [week_end - timedelta(days=n) for n in range(DAYS_OF_WEEK, 0, -1)]
    mixed = {each.number: _day(each.mixed_at_utc, zone) for each in week.batches}
    latest = {each.source: _day(each.mixed_at_utc, zone) for each in week.batches}
    judged = week.repeated is not None and week.repeated.judged
    found = SuppliesView(
        stock=tuple(_stock(line, latest) for line in week.stock if line.state is not StockState.NOT_COUNTED),
        unnamed_grams=round(week.unnamed_grams, 1),
        unnamed_days=week.unnamed_days,
        days=_counted_days(inputs, week.placed, days, zone, settings),
        weak=tuple(_weak(each, mixed) for each in week.weak if each.weak),
        season_days=week.repeated.days if week.repeated is not None and judged else 0,
        repeating=_repeating(week.repeated),
    )
    told = found.stock or found.days or found.weak or found.season_days
    return found if told else None


def _stock(line: StockLine, mixed_on: dict[str, date]) -> StockView:
    return StockView(
        source=line.source,
        unit=line.unit,
        home_mixed=line.home_mixed,
        state=str(line.state),
        on_hand=line.on_hand,
        per_day=line.per_day,
        mixed_on=mixed_on.get(line.source),
        lasts_until=line.lasts_until,
        use_by=line.use_by,
        act_by=line.act_by,
    )


def _counted_days(
    inputs: Inputs, placed: Sequence[PlacedCount], days: list[date], zone: ZoneInfo, settings: ReportSettings
) -> tuple[CountedDay, ...]:
    """Each day of a week in which a count ended; else nothing. What is gone stands on the day it was counted."""
    mine = [each for each in placed if _day(each.count.to_utc, zone) in days]
    if not mine:
        return ()
    given = [
        (at.astimezone(zone), grams)
        for at, grams in inputs.doses.filter(pl.col("grams").is_not_null()).select("taken_at_utc", "grams").iter_rows()
    ]
    return tuple(_counted_day(day, given, mine, zone, settings) for day in days)


def _counted_day(
    day: date, given: list[tuple[datetime, float]], mine: list[PlacedCount], zone: ZoneInfo, settings: ReportSettings
) -> CountedDay:
    on_day = [(at, grams) for at, grams in given if at.date() == day]
    counted = [each for each in mine if _day(each.count.to_utc, zone) == day]
    first, past = settings.school_from_hour, settings.school_to_hour
    school = day.weekday() < SATURDAY
    in_school = [grams for at, grams in on_day if first <= at.hour < past]
    gone = [each.grams_untimed for each in counted if _of_school(each, zone, settings)]
    return CountedDay(
        day=day,
        logged_grams=round(sum(grams for _, grams in on_day), 3),
        gone_grams=round(sum(each.grams_untimed for each in counted), 3),
        school_logged_grams=round(sum(in_school), 3) if school else None,
        school_gone_grams=round(sum(gone), 3) if school else None,
    )


def _of_school(placed: PlacedCount, zone: ZoneInfo, settings: ReportSettings) -> bool:
    """Whether a count is of one school day: from at most so long before the first lesson to as long after the last."""
    begin, end = (at.astimezone(zone) for at in (placed.count.from_utc, placed.count.to_utc))
    way = settings.school_way_hours
    early, late = settings.school_from_hour - way, settings.school_to_hour + way
    return begin.date() == end.date() and begin.hour >= early and end.hour + end.minute / 60 <= late


def _weak(each: WeakGlucose, mixed_on: dict[int, date]) -> WeakView:
    return WeakView(
        source=each.source,
        batch=each.batch,
        mixed_on=None if each.batch is None else mixed_on.get(each.batch),
        ratio=round(each.ratio, 3),
        low_ratio=round(each.low_ratio, 3),
        high_ratio=round(each.high_ratio, 3),
        probability=round(each.probability_weak, 3),
        uses=each.uses,
        causes=tuple(str(cause) for cause in each.causes),
    )


def _repeating(repeated: Repeated | None) -> tuple[RepeatingView, ...]:
    return tuple(
        RepeatingView(
            what=str(each.what),
            weekday=each.weekday,
            from_hour=each.from_hour,
            to_hour=each.to_hour,
            seen=round(each.seen, 1),
            expected=round(each.expected, 1),
        )
        for each in (repeated.found if repeated is not None else ())
    )


def _day(at_utc: datetime, zone: ZoneInfo) -> date:
    return at_utc.astimezone(zone).date()
