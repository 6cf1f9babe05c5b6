"""Times as people type them: a clock time alone, or a day and a time, read on their own clock or refused."""

from datetime import UTC, datetime, time, timedelta
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from gramrise.domain.person import zone_on
from gramrise.domain.problems import WrongUse
from gramrise.intake.typed.clock_words import clock_alone, clocks_in
from gramrise.intake.typed.dates import local_date

if TYPE_CHECKING:
    from gramrise.domain.person import Dated

# Our choice: of an hour that came twice, whoever writes it so soon after means the pass that was.
JUST_NOW: Final = timedelta(minutes=45)
# Words for a day, in days before today.
DAYS_BACK: Final = {"today": 0, "heute": 0, "hoy": 0, "yesterday": 1, "gestern": 1, "ayer": 1}


def instant_meant(text: str | None, zones: "Dated[ZoneInfo]", now_utc: datetime) -> datetime:
    """The instant meant: a clock time alone is the latest such time that has been, read in the zone of its day.

    raises  WrongUse for what is no time, has not been, never was, or came twice
    """
    if text is None:
        return now_utc.replace(second=0, microsecond=0)
    clock = clock_alone(text)
    if clock is not None:
        return _latest(clock, text, zone_on(zones, now_utc), now_utc)
    stated = _day_and_time(text, zones, now_utc)
    zone = zones.on_or_first(stated.date()) or zone_on(zones, now_utc)
    passes = [stated.astimezone(UTC)] if stated.tzinfo is not None else instants_of(stated, zone)
    if not passes:
        raise _never_was(text)
    if len(passes) > 1:
        raise _came_twice(text, passes, zone)
    if passes[0] > now_utc:
        raise WrongUse(f"{text} has not been yet", "give a time that has passed")
    return passes[0]


def _day_and_time(text: str, zones: "Dated[ZoneInfo]", now_utc: datetime) -> datetime:
    """'2026-03-09 02:10', also with an offset, '2026-03-09 9:10 PM', 'yesterday 22:30'. Raises WrongUse."""
    day, _, rest = text.strip().partition(" ")
    clock = clock_alone(rest) if rest else None
    today = now_utc.astimezone(zone_on(zones, now_utc)).date()
    try:
        if clock is not None:
            back = DAYS_BACK.get(day.lower())
            return datetime.combine(local_date(day) if back is None else today - timedelta(days=back), clock)
        return _iso_time(text) or _day_in_words(text)
    except ValueError as problem:
        raise WrongUse(f"'{text}' is not a time", "write 02:10, 9:10 PM or '2026-03-09 02:10'") from problem


def _iso_time(text: str) -> datetime | None:
    """A time as ISO 8601 writes it; a day alone is not its midnight."""
    try:
        return datetime.fromisoformat(text) if ":" in text else None
    except ValueError:
        return None


def _day_in_words(text: str) -> datetime:
    """'9.3.2026 2:10', '9 Mar 2026 9:10 PM'. Raises ValueError, or WrongUse for a day that is no day."""
    clocks = clocks_in(text)
    if len(clocks) != 1:
        raise ValueError(text)
    rest = f"{text[: clocks[0].start]} {text[clocks[0].end :]}".strip(" ,")
    if not rest:
        raise ValueError(text)
    return datetime.combine(local_date(rest), clocks[0].at)


def _latest(clock: time, text: str, zone: ZoneInfo, now_utc: datetime) -> datetime:
    today = now_utc.astimezone(zone).date()
    for day in (today, today - timedelta(days=1)):
        passes = instants_of(datetime.combine(day, clock), zone)
        been = [at for at in passes if at <= now_utc]
        if len(been) > 1 and now_utc - been[-1] > JUST_NOW:
            raise _came_twice(text, been, zone)
        if been:
            return been[-1]
        if not passes:
            raise _never_was(f"{text} on {day.isoformat()}")
    raise WrongUse(f"{text} has not been yet", "give a time that has passed")


def _came_twice(text: str, passes: list[datetime], zone: ZoneInfo) -> WrongUse:
    first, second = (at.astimezone(zone).isoformat(" ", "minutes") for at in passes)
    return WrongUse(f"{text} came twice, as the clock was put back", f"write '{first}' or '{second}'")


def _never_was(text: str) -> WrongUse:
    return WrongUse(f"{text} never was: the clock was put forward over it", "give the time that the clock showed")


def instants_of(local: datetime, zone: ZoneInfo) -> list[datetime]:
    """The UTC instants at which the clock of a zone shows a wall time: one; two, earlier first; none where it skips."""
    passes = sorted({local.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)})
    return [at for at in passes if at.astimezone(zone).replace(tzinfo=None) == local.replace(fold=0)]
