"""When a person's night and week are due, on their own clock, over clock changes too. Pure; instants are aware, UTC."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from gramrise.nightly.settings import NightlySettings

DAY = timedelta(days=1)


def instant_of(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The first instant at which the clock of `zone` shows that time or later on that day.

    A time that happens twice is its first; a time the clock skips is the moment after the gap.
    """
    wall = datetime.combine(day, at)
    first = wall.replace(tzinfo=zone, fold=0).astimezone(UTC)
    if first.astimezone(zone).replace(tzinfo=None) == wall:
        return first
    # Skipped: before the gap the old offset holds, so fold=1 gives the instant that old clock would have shown.
    return _end_of_gap(wall, zone)


def _end_of_gap(wall: datetime, zone: ZoneInfo) -> datetime:
    """The first instant whose wall time is past a skipped one, to the minute."""
    low = wall.replace(tzinfo=zone, fold=1).astimezone(UTC)
    high = wall.replace(tzinfo=zone, fold=0).astimezone(UTC)
    minute = timedelta(minutes=1)
    while high - low > minute:
        middle = low + (high - low) / 2
        if middle.astimezone(zone).replace(tzinfo=None) >= wall:
            high = middle
        else:
            low = middle
    return high.replace(second=0, microsecond=0)


def latest_day_due(now_utc: datetime, at: time, zone: ZoneInfo) -> date:
    """The latest local date on which `at` has come."""
    today = now_utc.astimezone(zone).date()
    return today if instant_of(today, at, zone) <= now_utc else today - DAY


def next_day_due(now_utc: datetime, at: time, zone: ZoneInfo) -> datetime:
    """The next instant, after now, at which `at` comes."""
    return instant_of(latest_day_due(now_utc, at, zone) + DAY, at, zone)


def latest_week_due(now_utc: datetime, settings: NightlySettings, zone: ZoneInfo) -> date:
    """The last local date of the latest week whose report is due."""
    day = latest_day_due(now_utc, settings.mail_at, zone)
    return day - ((day.weekday() - settings.last_weekday) % 7) * DAY


def next_week_due(now_utc: datetime, settings: NightlySettings, zone: ZoneInfo) -> datetime:
    """The next instant, after now, at which a week's report is due."""
    return instant_of(latest_week_due(now_utc, settings, zone) + 7 * DAY, settings.mail_at, zone)


def next_due(now_utc: datetime, settings: NightlySettings, zones: list[ZoneInfo]) -> datetime | None:
    """The next instant, after now, at which any night or week is due in one of these zones; None without zones."""
    coming = [next_day_due(now_utc, settings.night_at, zone) for zone in zones]
    coming += [next_week_due(now_utc, settings, zone) for zone in zones]
    return min(coming, default=None)
