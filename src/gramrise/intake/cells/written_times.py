"""One written date-time: the slow and exact reader, used for every spelling that polars does not read.

Which spellings are accepted follows our notes on time (cases s01 to s47 in the tests).
"""

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from gramrise.intake.settings import shipped_settings
from gramrise.intake.words import HeaderWords, folded, shipped_words

A = re.ASCII | re.IGNORECASE
_YEAR_FIRST = re.compile(r"(\d{4})([-/.:])(\d{1,2})\2(\d{1,2})(?!\d)", A)
_BASIC = re.compile(r"(\d{4})()(\d{2})(\d{2})(?!\d)", A)
# '10 March 02:10' has no year: two digits before a clock's mark are its hour.
_YEAR_LAST = re.compile(r"(\d{1,2})([-/. ])(\d{1,2})\2(\d{4}|\d{2})(?!\d|[:h]\d)", A)
_DAY_NAME = re.compile(
    r"(\d{1,2})(?:\.|st|nd|rd|th)?[ -]{0,9}(?:de )?([a-z]{3,10})\.?[ ,-]{0,9}(?:de )?(\d{4}|\d{2})(?!\d|[:.h]\d)", A
)
_NAME_DAY = re.compile(r"([a-z]{3,10})\.? (\d{1,2})(?:st|nd|rd|th)?,? {1,9}(\d{4})(?!\d)", A)
_WEEKDAY = re.compile(r"[a-z]{2,10}\.?,? {1,9}(?=\d)", A)
_CLOCK = re.compile(r"(\d{1,2})[:.h](\d{2})(?:[:.](\d{2})(?:[.,](\d{1,9}))?)?(?![\d.,])", A)
_BASIC_CLOCK = re.compile(r"(\d{2})(\d{2})(\d{2})?(?!\d)", A)
_OFFSET = re.compile(r" ?(?:(Z)|(?:UTC|GMT)?([+-])(\d{2})(?::?(\d{2}))?|(?:UTC|GMT))(?:\[([\w/+-]{1,60})\])?", A)
_HOUR_ONLY = re.compile(r"(\d{1,2})(?= ?[a-z])", A)
_GLUE = re.compile(r" {0,9}[T,]? {0,9}(?:um |at |a las |a )?", A)
# A span of time, as 07:30-08, looks like an offset of hours alone: that is one behind seconds, a T or UTC only.
_HOURS_ALONE = re.compile(r" ?[+-]\d{2}(?!:?\d)", A)
MOST_OFFSET_MINUTES = 14 * 60  # the largest offset in use is +14:00
_LEAST_OFFSET_MINUTES = -12 * 60
# Offsets in use that are no whole hours; 07:30-07:45 is a span of time. Source: tz data, all zones since 2000.
_PART_HOURS = frozenset({-570, -270, -210, -150, 210, 270, 330, 345, 390, 510, 525, 570, 585, 630, 690, 765, 825})


@dataclass(frozen=True, slots=True)
class WrittenTime:
    """A wall-clock time as written. `offset_minutes` east of UTC, None when none was written or it is unknown."""

    local: datetime
    offset_minutes: int | None = None
    timed: bool = True  # a time of day was written: a day is not its midnight
    utc_known: bool = False  # the instant is known although the local offset is not ("-00:00")
    second: bool = False  # written to the second


@dataclass(frozen=True, slots=True)
class DateStyle:
    """How dates are written. `order` is ymd, dmy or mdy; `strict` takes year-first dates with two-digit parts only."""

    order: str
    latest_two_digit_year: int
    strict: bool = False


def read_written_time(text: str, style: DateStyle, words: HeaderWords | None = None) -> WrittenTime | None:
    """The wall time of a text; None when it has none in this style (no such day, odd digits, other order)."""
    words = words or shipped_words()
    trimmed = " ".join(text.split())
    if not trimmed.isascii():
        digits = sum(mark.isascii() and mark.isdigit() for mark in trimmed)
        trimmed = folded(trimmed)
        if not trimmed.isascii() or digits != sum(map(str.isdigit, trimmed)):
            return None  # '10:0²' is not 10:02
    found = read_day(trimmed, style, words)
    if found is None:
        return None
    day, rest = found
    glue = _GLUE.match(rest)
    rest = rest[glue.end() :] if glue else rest
    if not rest:
        return WrittenTime(datetime(day.year, day.month, day.day), timed=False)  # noqa: DTZ001 - a wall-clock value
    return _with_clock(day, rest, words, iso=bool(glue and "T" in glue[0].upper()))


def read_day(text: str, style: DateStyle, words: HeaderWords) -> tuple[date, str] | None:
    """The day at the start of a text, and what follows it."""
    for expression, order in ((_YEAR_FIRST, "ymd"), (_BASIC, "ymd"), (_YEAR_LAST, style.order)):
        found = expression.match(text)
        if found is None:
            continue
        if style.strict and (expression is _YEAR_LAST or len(found[3]) < 2 or len(found[4]) < 2):
            return None
        if expression is not _YEAR_LAST and style.order != "ymd" and expression is _BASIC:
            return None
        if sorted(order) != ["d", "m", "y"]:
            return None  # the table counts seconds or days, and this text is a date
        parts = (found[1], found[3], found[4])
        return _day(_ordered(parts, order, style), text[found.end() :])
    return None if style.strict else _named_day(text, style, words)


def possible_days(text: str) -> tuple[date, ...]:
    """The days that a text alone may mean, the one read day first before the one read month first.

    Parted by full stops it is day first in every language; slashes and strokes leave both.
    """
    latest = shipped_settings().latest_two_digit_year
    orders = ("dmy",) if "." in text else ("dmy", "mdy")
    found = [read_day(folded(text), DateStyle(order, latest), shipped_words()) for order in orders]
    return tuple(dict.fromkeys(day for day, rest in filter(None, found) if not rest.strip()))


def _named_day(text: str, style: DateStyle, words: HeaderWords) -> tuple[date, str] | None:
    months = words.months
    for candidate in (text, _WEEKDAY.sub("", text, count=1), text.partition(" ")[2]):
        for expression, at in ((_DAY_NAME, (3, 2, 1)), (_NAME_DAY, (3, 1, 2))):
            found = expression.match(candidate)
            month = months.get(found[at[1]].lower()) if found else None
            if found is not None and month is not None:
                year = _year(found[at[0]], style)
                return _day((year, month, int(found[at[2]])), candidate[found.end() :])
    bare = _WEEKDAY.sub("", text, count=1)
    return read_day(bare, style, words) if bare != text and bare[:1].isdigit() and _YEAR_LAST.match(bare) else None


def _ordered(parts: tuple[str, str, str], order: str, style: DateStyle) -> tuple[int, int, int]:
    year, month, day = (parts[order.index(which)] for which in "ymd")
    return _year(year, style), int(month), int(day)


def _year(text: str, style: DateStyle) -> int:
    year = int(text)
    if len(text) > 2:
        return year
    return year + (2000 if year <= style.latest_two_digit_year else 1900)


def _day(parts: tuple[int, int, int], rest: str) -> tuple[date, str] | None:
    try:
        return date(*parts), rest
    except ValueError:
        return None


def _with_clock(day: date, text: str, words: HeaderWords, *, iso: bool) -> WrittenTime | None:
    found = _CLOCK.match(text) or _BASIC_CLOCK.match(text)
    hour_only = None if found else _HOUR_ONLY.match(text)
    if found is None and hour_only is None:
        return None
    match = found or hour_only
    assert match is not None  # one of the two
    rest, half = _half_day(text[match.end() :], words)
    if found is None and half is None:
        return None  # an hour alone is too coarse, "3 pm" is what people write
    hour, minute = int(match[1]), int(match[2]) if found else 0
    seconds = int(match[3]) if found and match[3] else 0
    digits = match[4] if found and match.re is _CLOCK and match[4] else ""
    local = _wall(day, hour, minute, seconds, int((digits + "000000")[:6]), half)
    if local is None:
        return None
    second = bool(found and match[3])
    if _HOURS_ALONE.match(rest) and not (second or iso):
        return None
    return _with_offset(local, rest, second)


def _half_day(rest: str, words: HeaderWords) -> tuple[str, str | None]:
    """Takes am/pm words, in any of the languages, off the front of the rest."""
    trimmed = rest.lstrip()
    for half in ("am", "pm"):
        for word in sorted(words.clock[half], key=len, reverse=True):
            if trimmed.lower().startswith(word) and not trimmed[len(word) : len(word) + 1].isalpha():
                return trimmed[len(word) :], half
    for word in ("uhr", "h"):
        if trimmed.lower() == word:
            return "", None
    return rest, None


def _wall(day: date, hour: int, minute: int, second: int, micro: int, half: str | None) -> datetime | None:
    if half is not None:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    later = timedelta()
    if (hour, minute, second) == (24, 0, 0):
        hour, later = 0, timedelta(days=1)  # the end of the day
    elif second == 60:
        second, later = 59, timedelta(seconds=1)  # a leap second
    try:
        return datetime(day.year, day.month, day.day, hour, minute, second, micro) + later  # noqa: DTZ001
    except (ValueError, OverflowError):
        return None


def _with_offset(local: datetime, rest: str, second: bool) -> WrittenTime | None:
    if not rest.strip():
        return WrittenTime(local, second=second)
    found = _OFFSET.fullmatch(rest.rstrip())
    if found is None:
        return None
    _, sign, hours, minutes, zone = found.groups()
    offset = (int(hours) * 60 + int(minutes or 0)) * (-1 if sign == "-" else 1) if sign else 0
    if not is_offset_in_use(offset) or int(minutes or 0) > 59:
        return None
    if zone is not None and not _zone_agrees(zone, local, offset):
        return None
    unknown = sign == "-" and offset == 0
    return WrittenTime(local, None if unknown else offset, utc_known=unknown, second=second)


def is_offset_in_use(minutes: int) -> bool:
    """Whether some zone is or was, since 2000, so many minutes east of UTC."""
    if minutes % 60:
        return minutes in _PART_HOURS
    return _LEAST_OFFSET_MINUTES <= minutes <= MOST_OFFSET_MINUTES


def _zone_agrees(name: str, local: datetime, offset: int) -> bool:
    """Whether the named zone has this offset at this wall time, in either pass of a repeated hour."""
    try:
        zone = ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        return False
    return any(local.replace(tzinfo=zone, fold=fold).utcoffset() == timedelta(minutes=offset) for fold in (0, 1))
