"""Times as FHIR R4 and RFC 3339 write them. Each pattern is matched whole before anything is parsed."""

import re
from datetime import UTC, date, datetime, timedelta
from typing import Final, NamedTuple

_CLOCK: Final = r"\d{4}-\d{2}-\d{2}T([01]\d|2[0-3]):[0-5]\d:([0-5]\d|60)(\.\d+)?"
_FHIR: Final = re.compile(_CLOCK + r"(Z|[+-]((0\d|1[0-3]):[0-5]\d|14:00))", re.ASCII)
_RFC3339: Final = re.compile(_CLOCK + r"(Z|[+-]([01]\d|2[0-3]):[0-5]\d)", re.ASCII | re.IGNORECASE)
_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_COARSE: Final = re.compile(r"\d{4}(-(0[1-9]|1[0-2]))?", re.ASCII)


class Instant(NamedTuple):
    """An instant and the offset it was written with, minutes east of UTC; None where that is unknown ('-00:00')."""

    utc: datetime
    offset_minutes: int | None


def fhir_time(text: str) -> Instant | date | None:
    """A FHIR dateTime: an instant, a day, or None for a year or month alone. Raises ValueError for anything else."""
    if _FHIR.fullmatch(text):
        return _instant(text)
    if _DAY.fullmatch(text):
        return date.fromisoformat(text)
    if _COARSE.fullmatch(text) and text[:4] != "0000":
        return None
    raise ValueError("no FHIR dateTime")


def rfc3339_time(text: str) -> Instant:
    """An RFC 3339 date-time, which has a zone. Raises ValueError for anything else."""
    if not _RFC3339.fullmatch(text):
        raise ValueError("no RFC 3339 date-time")
    return _instant(text.upper())


def _instant(text: str) -> Instant:
    """The instant of a text whose form is proved. A fraction is cut to microseconds; a leap second is :59 and one."""
    leap = text[17:19] == "60"
    try:
        at = datetime.fromisoformat(text[:17] + "59" + text[19:] if leap else text)
        utc = at.astimezone(UTC) + timedelta(seconds=1 if leap else 0)
    except OverflowError as problem:
        raise ValueError("no date of the calendar") from problem
    offset = at.utcoffset()
    assert offset is not None  # the pattern has one
    return Instant(utc, None if text.endswith("-00:00") else int(offset.total_seconds() // 60))
