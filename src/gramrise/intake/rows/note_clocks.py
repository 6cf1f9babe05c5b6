"""What stands directly behind the clock time of a note's line: a half or part of the day, or a zone."""

import re
from dataclasses import dataclass
from functools import lru_cache

from gramrise.intake.cells import DateStyle, read_written_time
from gramrise.intake.labels import speaks_of_zone
from gramrise.intake.words import HeaderWords, folded

_PARTS = ("am", "pm", "morning", "evening", "night", "noon")
_DOTTED = re.compile(r"([ap])\s?\.?\s?m(?![^\W_])\.?\s*", re.IGNORECASE)
_GLUED = re.compile(r"([ap])(?![^\W_])\.?\s*", re.IGNORECASE)
_LONE_P = re.compile(r"p(?![^\W_])", re.IGNORECASE)
_OFFSET = re.compile(
    r"\s{0,9}((?:Z|UTC|GMT|UCT)(?:\s?[+-\u2212]\s?\d{1,2}(?::?\d{2})?)?|[+\u2212-]\d{2}:?\d{2})(?![\w:.,/])\s*",
    re.IGNORECASE,
)
_WORD = re.compile(r"\S+")
_DAY_HOURS = {  # hours of the clock of 24 hours that a word leaves as they are
    "night": frozenset({0, 1, 2, 3, 4, 5, 20, 21, 22, 23}),
    "noon": frozenset({11, 12, 13, 14}),
}
_NAMED = "\u2022"  # in place of the name of a source
_BROAD_DAY = frozenset(range(7, 19))


@dataclass(frozen=True, slots=True)
class NoteClock:
    """An hour on the clock of 24 hours, the words left, and the offset in minutes where a zone was written."""

    hour: int
    said: str
    offset_minutes: int | None = None
    trouble: str = ""  # part_of_day | zone_open: the line must be set aside


def note_clock(hour: int, behind: str, said: str, words: HeaderWords, names: tuple[str, ...] = ()) -> NoteClock:
    """Reads a part of the day and a zone behind a clock time.

    hour    as written
    behind  all that stands behind the time, to its first mark
    said    the same without any mark that parts the time from the words
    names   of the person's sources: 'night bottle' is no part of the day
    """
    zone = _OFFSET.match(behind)
    if zone is not None:
        minutes = _minutes(zone[1])
        rest = behind[zone.end() :].lstrip("-–—:,;| ").strip()
        return NoteClock(hour, rest, minutes, "zone_open" if minutes is None else "")
    unnamed = _without(names, said)
    part, rest = _part_of_day(said, behind[:1].isalpha(), words) if unnamed[:1] != _NAMED else ("", said)
    if part:
        read = _hour(hour, part)
        if read is None:
            return NoteClock(hour, said, None, "part_of_day")
        hour, said = read, rest
        zone = _OFFSET.match(said)
        if zone is not None:
            minutes = _minutes(zone[1])
            return NoteClock(hour, said[zone.end() :], minutes, "zone_open" if minutes is None else "")
    first = _WORD.match(said)
    if first is not None and speaks_of_zone(first[0].strip("()[],;:.")):
        return NoteClock(hour, said, None, "zone_open")
    other_half = not part and ((0 < hour < 12 and says_later_half(unnamed, words)) or says_night(unnamed, hour, words))
    if _LONE_P.match(said) or other_half:
        return NoteClock(hour, said, None, "part_of_day")
    return NoteClock(hour, said.lstrip(",;:|-–— ") if part else said)


def _without(names: tuple[str, ...], said: str) -> str:
    """Folded words, with a mark in place of each name of a source."""
    return _phrases(names).sub(_NAMED, folded(said)) if any(names) else said


def says_later_half(text: str, words: HeaderWords) -> bool:
    """Whether words speak of the afternoon or evening."""
    return _phrases(words.clock["pm"] + words.clock["evening"]).search(folded(text)) is not None


def says_night(text: str, hour: int, words: HeaderWords) -> bool:
    """Whether words speak of the night beside an hour of broad day: 'at night' at 08:00. A night bottle does not."""
    by_night = tuple(phrase for phrase in words.clock["night"] if " " in phrase or phrase == "nachts")
    return hour in _BROAD_DAY and _phrases(by_night).search(folded(text)) is not None


def _part_of_day(said: str, glued: bool, words: HeaderWords) -> tuple[str, str]:
    """The part of the day that the words begin with, and the words behind it; '' where there is none."""
    opened = said.lstrip("([ ")
    longest = sorted(((word, part) for part in _PARTS for word in words.clock[part]), key=lambda one: -len(one[0]))
    for word, part in longest:
        for length in range(min(len(opened), len(word)), 0, -1):
            if folded(opened[:length]) == word and not opened[length : length + 1].isalnum():
                return part, opened[length:].lstrip(")]. ")
    dotted = _DOTTED.match(opened) or (_GLUED.match(opened) if glued else None)
    return (f"{dotted[1].lower()}m", opened[dotted.end() :].lstrip(")] ")) if dotted else ("", said)


def _hour(hour: int, part: str) -> int | None:
    """The hour on the clock of 24 hours; None where hour and word do not go together."""
    if part in _DAY_HOURS:
        return hour if hour in _DAY_HOURS[part] else None
    if hour == 12:
        return {"am": 0, "pm": 12}.get(part)
    if part in {"am", "morning"}:
        return hour if hour < 12 else None
    return hour if hour > 12 else hour + 12 if hour else None


def _minutes(written: str) -> int | None:
    """Minutes east of UTC of 'Z', 'UTC', 'UTC+2' or '+02:00'; None where no zone has this offset."""
    plain = re.sub(r"\s", "", written.upper()).replace("\u2212", "-").replace("UCT", "UTC")
    short = re.fullmatch(r"(Z|UTC|GMT)([+-])(\d)(:?\d{2})?", plain)
    if short:
        plain = f"{short[2]}0{short[3]}{short[4] or ':00'}"
    plain = plain if len(plain) < 2 or not plain.startswith("Z") else plain[1:]
    moment = read_written_time(f"2000-01-01T00:00:00{plain}", DateStyle("ymd", 68))
    return None if moment is None else 0 if moment.utc_known else moment.offset_minutes


@lru_cache(maxsize=8)
def _phrases(entries: tuple[str, ...]) -> re.Pattern[str]:
    longest = sorted((folded(entry) for entry in entries), key=len, reverse=True)
    return re.compile(r"(?<![^\W_])(?:" + "|".join(map(re.escape, longest)) + r")(?![^\W_])")
