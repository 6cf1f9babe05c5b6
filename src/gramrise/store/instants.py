"""Instants as the database holds them: integer microseconds since 1970-01-01 00:00 UTC, and back."""

from datetime import UTC, date, datetime, timedelta
from typing import Final

EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
MICROSECOND: Final = timedelta(microseconds=1)
MICROSECONDS_IN_A_MINUTE: Final = 60_000_000
# Before any instant a log can hold, as stored: what changing a person's facts counts as changed from.
BEGINNING: Final = 0


def stored(at: datetime) -> int:
    """An aware instant as stored. Raises ValueError for one without a zone: no zone is ever guessed."""
    if at.tzinfo is None:
        raise ValueError("an instant without a zone cannot be stored")
    return (at.astimezone(UTC) - EPOCH) // MICROSECOND


def instant(microseconds: int) -> datetime:
    """A stored instant as an aware datetime in UTC."""
    return EPOCH + microseconds * MICROSECOND


def instant_or_none(microseconds: int | None) -> datetime | None:
    return None if microseconds is None else instant(microseconds)


def earliest_of_day(day: date) -> int:
    """The first stored instant at which a local day can begin, wherever that is."""
    return stored(datetime(day.year, day.month, day.day, tzinfo=UTC) - timedelta(days=1))
