"""Clock times that a phone sends: its clock may run a little ahead of the server's, and then shows what is to come.

Read plainly, a clock time that has not been yet is yesterday's: what was given a minute ago would stand a day back.
"""

from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from gramrise.domain.person import zone_on
from gramrise.domain.problems import WrongUse
from gramrise.intake import clock_alone, clocks_in, instant_meant, instants_of, without_time

if TYPE_CHECKING:
    from gramrise.web.visit import Visit


def at_meant(visit: "Visit", text: str, minute: datetime) -> datetime:
    """The instant of a field of time: a few minutes ahead it is now. Raises WrongUse, also for one soon to come.

    minute  the whole minute at which it was touched, UTC
    """
    clock = clock_alone(text)
    ahead = None if clock is None else _soon(visit, clock, minute)
    if clock is None or ahead is None:
        return instant_meant(text, visit.person.zone, minute)
    if _is_now(visit, ahead, minute):
        return minute
    raise _not_yet(visit, clock)


def words_meant(visit: "Visit", said: str, touched: datetime) -> tuple[str, datetime | None]:
    """The words less their time, and the time as `at_meant` reads it: None where they name none. Raises WrongUse."""
    zones, minute = visit.person.zone, touched.replace(second=0, microsecond=0)
    for clock in clocks_in(said):
        # '3:05' may be 15:05: read, and asked about, as soon as either half of the day may be now.
        later = clock.at.replace(hour=(clock.at.hour + 12) % 24)
        for meant in (clock.at,) if clock.half_told else (clock.at, later):
            ahead = _soon(visit, meant, minute)
            if ahead is None or not _is_now(visit, ahead, minute):
                continue
            timed = without_time(said, zones, ahead)
            # A day that is told is the server's: at 23:58 'today 00:01' was at its beginning.
            if timed.at_utc == ahead and (not timed.day_told or _day(visit, ahead) == _day(visit, minute)):
                return timed.text, minute
    timed = without_time(said, zones, touched)
    told = None if timed.day_told else clock_alone(timed.time_text)
    if told is not None and _soon(visit, told, minute) is not None:
        raise _not_yet(visit, told)
    return timed.text, timed.at_utc


def _soon(visit: "Visit", clock: time, minute: datetime) -> datetime | None:
    """When the clock will show a time that it has not shown yet; None where that is not soon.

    In the hour that comes twice the pass that was is meant, unless the other is now.
    """
    zone, soon = zone_on(visit.person.zone, minute), timedelta(minutes=visit.page.settings.not_yet_minutes)
    today = _day(visit, minute)
    passes = [
        at for day in (today, today + timedelta(days=1)) for at in instants_of(datetime.combine(day, clock), zone)
    ]
    ahead = next((at for at in passes if minute < at <= minute + soon), None)
    has_been = any(minute - soon <= at <= minute for at in passes)
    return None if ahead is None or (has_been and not _is_now(visit, ahead, minute)) else ahead


def _day(visit: "Visit", at_utc: datetime) -> date:
    return at_utc.astimezone(zone_on(visit.person.zone, at_utc)).date()


def _is_now(visit: "Visit", ahead: datetime, minute: datetime) -> bool:
    return ahead - minute <= timedelta(minutes=visit.page.settings.clock_ahead_minutes)


def _not_yet(visit: "Visit", clock: time) -> WrongUse:
    at = f"{clock:%H:%M}"
    return WrongUse(visit.say("slip.not_yet", at=at), visit.say("mend.not_yet", at=at))
