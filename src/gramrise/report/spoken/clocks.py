"""Instants on a person's own clock, in the one form of screens and pages."""

from datetime import datetime

from gramrise.domain.person import Person, zone_on
from gramrise.report.screens import ScreenWords, screen_words


def local_time(at_utc: datetime | None, person: Person, words: ScreenWords | None = None) -> str:
    """'Mon 03 Mar 2026 02:10' on the clock the person lived by then; a dash when there is none."""
    words = words or screen_words(person.language)
    return "-" if at_utc is None else words.time(at_utc.astimezone(zone_on(person.zone, at_utc)))


def weekday_and_clock(at_utc: datetime, person: Person, words: ScreenWords) -> str:
    """'Mon 10:40' on the person's clock."""
    local = at_utc.astimezone(zone_on(person.zone, at_utc))
    return f"{words.say('weekdays').split()[local.weekday()]} {local:%H:%M}"
