"""Clock times as people type them: 21:10, 9:10 PM, 9 pm, 21.10 Uhr, 2 Uhr 10, 21h10."""

import re
from dataclasses import dataclass
from datetime import time
from typing import Final

from gramrise.domain.problems import WrongUse
from gramrise.intake.words import TIME_WORDS

# '3:10 am', but not '3:10 am Abend', which is German.
_HALF: Final = r"(?P<half>[ap]\.?\s?m\.?)(?![a-z])(?!\s{1,3}(?:frühen |späten )?(?:morgen|vormittag|nachmittag|abend))"
# Behind a clock time, which half of the day it is of. Midday is left out: 12 is told by its hour.
_MORNING: Final = r"(?P<morning>früh|frühmorgens|morgens|vormittags|in der früh|am (?:frühen )?morgen|in the morning)"
_LATER: Final = r"(?P<later>nachmittags|abends|am (?:späten )?(?:nachmittag|abend)|in the (?:afternoon|evening))"
_NIGHT: Final = r"(?P<night>nachts|in der nacht|at night|in the night)"
_PART: Final = rf"(?:\s{{1,3}}(?:{_MORNING}|{_LATER}|{_NIGHT})\b)?"
# '1 at night' is early, '11 at night' late; between them nobody can tell. Our choice.
_EARLY_AT_NIGHT, _LATE_AT_NIGHT = range(1, 6), range(9, 12)
# Behind a word for a time a full stop, or nothing, parts the minutes: 'um 2.10', 'at 0210'; a level or grams do not.
_TIME_WORD: Final = rf"\b(?:{TIME_WORDS})\s{{1,3}}"
_NO_MEASURE: Final = (
    r"(?![\d.,]?\d|\s?(?:mmol|mg|ml|g\b|gr|stück|pieces?|tab|cand|bonbon|dextr|trauben|plättchen|täfelchen"
    r"|pastil|comprim|caramel))"
)
_CLOCKS: Final = (
    re.compile(rf"(?P<hour>\d{{1,2}})(?:[:.h](?P<minute>\d{{2}}))?(?::\d{{2}})?\s*{_HALF}"),
    re.compile(rf"(?P<hour>\d{{1,2}})(?:[:.](?P<minute>\d{{2}}))?\s*uhr\b(?:\s*(?P<after>\d{{2}})\b)?{_PART}"),
    re.compile(rf"(?P<hour>\d{{1,2}})\s?(?::|h)\s?(?P<minute>\d{{2}})(?::\d{{2}})?(?:\s*h\b)?(?![\d:]){_PART}"),
    re.compile(rf"{_TIME_WORD}(?P<hour>\d{{1,2}})\.(?P<minute>\d{{2}}){_NO_MEASURE}{_PART}"),
    re.compile(rf"{_TIME_WORD}(?P<hour>[01]\d|2[0-3])(?P<minute>[0-5]\d){_NO_MEASURE}{_PART}"),
)


@dataclass(frozen=True, slots=True)
class ClockFound:
    """A clock time in a text: what it is, and the letters [start, end) it is written in."""

    at: time
    start: int
    end: int
    half_told: bool = True  # nobody can take it for the other half of the day: am, pm, 03:05, 13:05, 0:05


def clocks_in(text: str) -> list[ClockFound]:
    """Every clock time in a text, in its order. Raises WrongUse for one that no clock shows."""
    plain = text.lower()
    if len(plain) != len(text):
        plain = text  # a letter whose small form is longer would shift what is found
    found: list[ClockFound] = []
    for pattern in _CLOCKS:
        for match in pattern.finditer(plain):
            before = plain[match.start() - 1 : match.start()]
            if before.isdigit() or before in {":", ".", ",", "-", "/"}:
                continue
            if all(match.end() <= known.start or match.start() >= known.end for known in found):
                found.append(ClockFound(_time_of(match, text), match.start(), match.end(), _half_told(match)))
    return sorted(found, key=lambda each: each.start)


def clock_alone(text: str) -> time | None:
    """The time of a text that is nothing else; None for any other text. A full stop parts the minutes, too."""
    plain = text.strip()
    with_stop = re.fullmatch(r"(\d{1,2})\.(\d{2})", plain)
    if with_stop is not None:
        plain = f"{with_stop[1]}:{with_stop[2]}"
    found = clocks_in(plain)
    return found[0].at if len(found) == 1 and (found[0].start, found[0].end) == (0, len(plain)) else None


def _half_told(match: re.Match[str]) -> bool:
    hour = match["hour"]
    return bool(_half_of(match)) or hour.startswith("0") or int(hour) >= 12


def _half_of(match: re.Match[str]) -> str:
    """'a' or 'p' where the words say which half of the day the clock is of; else ''."""
    named, hour = match.groupdict(), int(match["hour"])
    if named.get("night"):
        early = hour in _EARLY_AT_NIGHT or hour == 12
        return "a" if early else "p" if hour in _LATE_AT_NIGHT else ""
    return "a" if named.get("morning") else "p" if named.get("later") else (named.get("half") or "")[:1]


def _time_of(match: re.Match[str], text: str) -> time:
    named = match.groupdict()
    hour, minute = int(named["hour"]), int(named.get("minute") or named.get("after") or 0)
    half = _half_of(match)
    wrong = half and not 1 <= hour <= 12
    whole = False  # '22 Uhr abends' is on the clock of 24 hours already; '16 Uhr früh' and '12 Uhr abends' are on none
    if named.get("morning") or named.get("later"):
        noon = "mittag" in (named["later"] or "") or "noon" in (named["later"] or "")
        whole = hour == 0 if half == "a" else hour > 12 or (noon and hour == 12)
        wrong = not whole and not 1 <= hour <= 11
    if half and not whole and not wrong:
        hour = hour % 12 + (12 if half == "p" else 0)
    if wrong or hour > 23 or minute > 59:
        raise WrongUse(f"'{text[match.start() : match.end()].strip()}' is on no clock", "write 21:10 or 9:10 PM")
    return time(hour, minute)
