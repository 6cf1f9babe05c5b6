"""Clock times as people type them: 21:10, 9:10 PM, 9 pm, 21.10 Uhr, 2 Uhr 10, 21h10."""

import re
from dataclasses import dataclass
from datetime import time
from typing import Final

from gramrise.domain.problems import WrongUse

_HALF: Final = r"(?P<half>[ap]\.?\s?m\.?)(?![a-z])"
_CLOCKS: Final = (
    re.compile(rf"(?P<hour>\d{{1,2}})(?:[:.h](?P<minute>\d{{2}}))?(?::\d{{2}})?\s*{_HALF}"),
    re.compile(r"(?P<hour>\d{1,2})(?:[:.](?P<minute>\d{2}))?\s*uhr\b(?:\s*(?P<after>\d{2})\b)?"),
    re.compile(r"(?P<hour>\d{1,2})\s?(?::|h)\s?(?P<minute>\d{2})(?::\d{2})?(?:\s*h\b)?(?![\d:])"),
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
    return bool(match.groupdict().get("half")) or hour.startswith("0") or int(hour) >= 12


def _time_of(match: re.Match[str], text: str) -> time:
    named = match.groupdict()
    hour, minute = int(named["hour"]), int(named.get("minute") or named.get("after") or 0)
    half = (named.get("half") or "")[:1]
    wrong = half and not 1 <= hour <= 12
    if half and not wrong:
        hour = hour % 12 + (12 if half == "p" else 0)
    if wrong or hour > 23 or minute > 59:
        raise WrongUse(f"'{text[match.start() : match.end()].strip()}' is on no clock", "write 21:10 or 9:10 PM")
    return time(hour, minute)
