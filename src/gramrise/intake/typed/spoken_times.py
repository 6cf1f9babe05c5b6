"""The time in what a person types about glucose given: '3 pieces at 02:10', '3 Stück um 2 Uhr 10', '20 minutes ago'."""

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from gramrise.domain.person import zone_on
from gramrise.domain.problems import WrongUse
from gramrise.intake.typed.clock_times import instant_meant
from gramrise.intake.typed.clock_words import clocks_in
from gramrise.intake.words import OTHER_DAY_WORD, TIME_WORDS

if TYPE_CHECKING:
    from gramrise.domain.person import Dated

_MEND: Final = "write the time on the clock of 24 hours, as 02:10, or give it with --at"
_BEFORE: Final = re.compile(rf"(?:\b(?:{TIME_WORDS}|@)\s*)$", re.IGNORECASE)
_DAY: Final = re.compile(
    r"\b\d{4}-\d{2}-\d{2}\b|(?<![\d.])\d{1,2}\.\d{1,2}\.\d{4}\b|\b(?:yesterday|gestern|ayer|today|heute|hoy)\b",
    re.IGNORECASE,
)
# 'Yesterday night 2:10' is said of the morning of today as well as of yesterday.
_LAST_NIGHT: Final = re.compile(
    r"\b(?:yesterday|gestern|ayer|hier)\b.{0,20}\b(?:night|nacht|nachts|noche|nuit)\b", re.I
)
_NIGHT_ENDS: Final = 7
_BEFORE_DAY: Final = re.compile(r"(?:\b(?:on|am|den|le|el)\s*)$", re.IGNORECASE)
_MONTH: Final = r"(?:jan|feb|mar|mär|apr|mai|may|jun|jul|aug|sep|okt|oct|nov|dez|dec)[a-zä]{0,6}"
_OTHER_DAY: Final = re.compile(
    rf"{OTHER_DAY_WORD}"
    rf"|\b\d{{1,2}}\.? {_MONTH}\b|\b{_MONTH}\.? \d{{1,2}}(?:st|nd|rd|th)?\b(?!\s?(?:ml|g|x|pieces?|tab|cand|stück))"
    r"|(?<![\d.,/])\d{1,2}/\d{1,2}/\d{2,4}\b|(?<![\d.,/])(?:\d{1,2}/[1-3]\d|1[0-2]/[1-9])(?![\d/])"  # 1/2 is a fraction
    r"|(?<![\d.])\d{1,2}\.\d{1,2}\.(?!\d)",
    re.IGNORECASE,
)
_LENGTH: Final = r"(?P<n>\d+)\s*(?P<unit>min(?:ute|uten|utes|utos|uto)?s?|h|hours?|stunden?|std|heures?|horas?)"
_AGO: Final = (
    re.compile(rf"\b{_LENGTH}\s+ago\b", re.IGNORECASE),
    re.compile(rf"\b(?:vor|il y a|hace)\s+{_LENGTH}\b", re.IGNORECASE),
)
_WITH_OFFSET: Final = re.compile(
    r"(?:(?P<day>\d{4}-\d{2}-\d{2})[ T])?(?<!\d)(?P<clock>\d{1,2}:\d{2})(?P<offset>[+-]\d{2}:\d{2})(?!\d)"
)
_AGO_IN_WORDS: Final = re.compile(
    r"\bago\b|\bvor\s+(?:einer|einem|einigen|ein paar|zwei|drei|kurzem)\b|\bil y a\b|\bhace\s+(?:un|una|media)\b",
    re.IGNORECASE,
)
# A part of the day, or a clock in words: the glucose was not given now.
_PART_OF_DAY: Final = re.compile(
    r"\b(?:noon|midday|midnight|tonight|overnight|during the night|"
    r"(?:this|last|yesterday) (?:morning|noon|afternoon|evening|night)"
    r"|(?:in the|at) (?:morning|afternoon|evening|night)|(?:quarter|half|five|ten|twenty) (?:past|to)"
    r"|mitternacht|(?:vor|nach)?mittags?|nachts|abends|morgens|frühmorgens|früh|in der (?:nacht|früh)"
    r"|am (?:morgen|abend|mittag)|viertel (?:nach|vor|eins|zwei|drei)|dreiviertel"
    r"|halb (?:eins|zwei|drei|vier|fünf|sechs|sieben|acht|neun|zehn|elf|zwölf)"
    r"|midi|minuit|cette nuit|ce (?:matin|soir)|le (?:matin|soir)|mediod[ií]a|medianoche|esta (?:noche|mañana|tarde)"
    r"|(?:por|de) la (?:noche|mañana|tarde))\b",
    re.IGNORECASE,
)
_HOUR_IN_WORDS: Final = (
    r"(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve"
    r"|eins|zwei|drei|vier|fünf|fuenf|sechs|sieben|acht|neun|zehn|elf|zwölf|zwoelf"
    r"|une heure|(?:deux|trois|quatre|cinq|six|sept|huit|neuf|dix|onze) heures"
    r"|la una|dos|tres|cuatro|cinco|seis|siete|ocho|nueve|diez|once|doce)"
)
# 'At two', 'um zwei Uhr'; but 'kurz vor zwei Stück' counts them.
_HOUR_ALONE: Final = re.compile(
    rf"\b(?:{TIME_WORDS}|a|kurz (?:vor|nach)|(?:shortly|just) (?:before|after))\s+"
    rf"(?:\d{{1,2}}\s*$|{_HOUR_IN_WORDS}(?=\s*(?:$|\d|[,.;:)!]|uhr\b|o.?clock\b|in\b|am\b|nachts\b|und\b|and\b)))",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Said:
    """What was typed, less its time. `at_utc` None: no time stood in the words."""

    text: str
    at_utc: datetime | None = None
    time_text: str = ""
    day_told: bool = False  # the words name its day, or how long ago it was


def without_time(text: str, zones: "Dated[ZoneInfo]", now_utc: datetime) -> Said:
    """Parts the time from the rest. Raises WrongUse for a time that has not been, several, or one that stays open."""
    other = _OTHER_DAY.search(text)
    if other is not None:
        raise WrongUse(
            f"'{text}': which day is '{other.group()}'?",
            "glucose is logged once it is given; give its date and time with --at '2026-03-09 02:10'",
        )
    ago = next((match for pattern in _AGO if (match := pattern.search(text))), None)
    if ago is not None:
        unit = timedelta(minutes=1) if ago["unit"].lower().startswith("min") else timedelta(hours=1)
        at = now_utc.replace(second=0, microsecond=0) - int(ago["n"]) * unit
        return Said(_left(text, ago.start(), ago.end()), at, ago.group(), day_told=True)
    with_offset = _WITH_OFFSET.search(text)
    if with_offset is not None:
        return _said_with_offset(text, with_offset, zones, now_utc)
    clocks = clocks_in(text)
    if len(clocks) > 1:
        raise WrongUse(f"'{text}' names {len(clocks)} times", "log each time by itself")
    if not clocks:
        _refuse_half_said(text)
        return Said(text)
    clock = clocks[0]
    before = _BEFORE.search(text[: clock.start])
    rest = _left(text, before.start() if before else clock.start, clock.end)
    day = _DAY.search(rest)
    if day is not None and clock.at.hour < _NIGHT_ENDS and _LAST_NIGHT.search(text):
        raise WrongUse(
            f"'{text}' may be the night just past, or the one before",
            "write its date before it, as 2026-03-09 02:10, or the time alone for the last time it was",
        )
    told = f"{clock.at:%H:%M}"
    if day is not None:
        told = f"{day.group()} {told}"
        ahead = _BEFORE_DAY.search(rest[: day.start()])
        rest = _left(rest, ahead.start() if ahead else day.start(), day.end())
    at = instant_meant(told, zones, now_utc)
    if day is None and not clock.half_told:
        _refuse_open_half(text[clock.start : clock.end].strip(), at, now_utc)
    return Said(rest, at, told, day_told=day is not None)


def _said_with_offset(text: str, found: re.Match[str], zones: "Dated[ZoneInfo]", now_utc: datetime) -> Said:
    """'2026-10-25 02:45+02:00', 'at 02:45+01:00': of an hour that came twice nothing else tells which it was."""
    before = _BEFORE.search(text[: found.start()])
    rest = _left(text, before.start() if before else found.start(), found.end())
    at = _with_its_day(found, now_utc)
    if at is None or not _shown_in(at, zones, now_utc):
        # '02:10-02:20' is two times: only an offset that the clock of the place had then is one.
        raise WrongUse(
            f"'{found.group()}' is no one time on the clock there",
            "write one time, as 02:10; of an hour that came twice, with its date, as 2026-10-25 02:10+02:00",
        )
    written = at.isoformat(" ", "minutes")
    if _DAY.search(rest) is not None or clocks_in(rest):
        raise WrongUse(f"'{text}' names more than one time", f"write its date before the time, as {written}")
    return Said(rest, instant_meant(written, zones, now_utc), written, day_told=True)


def _with_its_day(found: re.Match[str], now_utc: datetime) -> datetime | None:
    """The time with its date; without one, the last such time that has been. None: no clock shows it, or a range."""
    day = found["day"] or (f"{now_utc:%Y-%m-%d}" if found["offset"].startswith("+") else "")
    try:
        at = datetime.fromisoformat(f"{day}T{found['clock']:0>5}{found['offset']}")
    except ValueError:
        return None
    if found["day"] is None:
        at = datetime.combine(now_utc.astimezone(at.tzinfo).date(), at.timetz())
        at -= timedelta(days=1) if at > now_utc else timedelta(0)
    return at


def _shown_in(at: datetime, zones: "Dated[ZoneInfo]", now_utc: datetime) -> bool:
    """Whether the clock of the place of that day shows this time with this offset."""
    zone = zones.on_or_first(at.date()) or zone_on(zones, now_utc)
    try:
        return at.astimezone(zone).replace(tzinfo=None) == at.replace(tzinfo=None)
    except OverflowError:  # the first or the last day that a calendar can write
        return False


def _refuse_open_half(written: str, at_utc: datetime, now_utc: datetime) -> None:
    """'3:05' typed at 16:37 may be this afternoon's: where twelve hours later has been too, nobody can tell.

    A time before now by less than twelve hours is meant; one of two figures ('03:05') is on the clock of 24 hours.
    """
    if at_utc + timedelta(hours=12) <= now_utc:
        raise WrongUse(
            f"'{written}' may be before noon or after it",
            "write its day before it, as today 11:00 or yesterday 11:00, or 23:00 for the evening"
            if written[:2].isdigit()  # its hour cannot be written otherwise on the clock of 24 hours
            else "write it on the clock of 24 hours, as 03:05 or 15:05",
        )


# '4 g Dextrose 23.30': beside another number one that could be a time, and has no unit behind it.
_MAYBE_CLOCK: Final = re.compile(r"(?<![\d.,/:])(?:[01]?\d|2[0-3])\.[0-5]\d(?![\d.,:/%]|\s?[^\W\d_])")


def _refuse_half_said(text: str) -> None:
    """A time that is spoken of and cannot be read must not become now."""
    maybe = _MAYBE_CLOCK.search(text)
    if maybe is not None and re.search(r"\d", text[: maybe.start()] + text[maybe.end() :]):
        mend = "write a time with a colon, as 23:30, and the unit behind a number"
        raise WrongUse(f"'{maybe.group()}' may be a time", mend)
    if any(said.search(text) for said in (_AGO_IN_WORDS, _HOUR_ALONE, _DAY, _PART_OF_DAY)):
        raise WrongUse(f"'{text}' speaks of a time that cannot be read for certain", _MEND)


def _left(text: str, start: int, end: int) -> str:
    return " ".join(f"{text[:start]} {text[end:]}".split()).strip(" ,;:-")
