"""The zone that a table states for its times: in a header, above the table, or in a column of its own."""

import re
from collections.abc import Iterable
from functools import cache
from zoneinfo import available_timezones

from gramrise.domain.person import Person
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.words import folded

PERSONS = "person"
# Abbreviations are not unique (our notes on time, case l26): they are no zone, only a sign that one is meant.
_ABBREVIATIONS = re.compile(
    r"(?<![A-Za-z])(CEST|CET|MESZ|MEZ|EST|EDT|CST|CDT|MST|MDT|PST|PDT|BST|IST|EET|EEST|WET|WEST|AEST|AEDT|JST|HEC|"
    r"cest|cet|mesz|mez|edt|cdt|mdt|pst|pdt|bst)(?![A-Za-z])"
)
_NAMED = re.compile(r"(?<![A-Za-z])[A-Z][A-Za-z]+/[A-Za-z_]+(?:/[A-Za-z_]+)?")
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")
_OFFSET = re.compile(r"\b(?:utc|gmt)\s?([+-\u2212])\s?(\d{1,2})(?::?(\d{2}))?\b", re.IGNORECASE)
_UTC = re.compile(r"\b(utc|gmt|zulu|universal time|weltzeit|temps universel)\b")
_REGIONS = re.compile(
    r"\b(eastern|central|mountain|pacific|atlantic|western|newfoundland|greenwich|standard|daylight|summer|winter)"
    r"\s+(standard |daylight |summer )?time\b|\b(sommer|winter)zeit\b|\bheure d'?\s?(ete|hiver)\b"
    r"|\bhora(rio)? de (verano|invierno|verao|inverno)\b|\bora (legale|solare)\b|\b(zomer|winter)tijd\b"
    r"|\bczas (letni|zimowy)\b|\b(sommar|vinter|normal)tid\b"
)
# A line that speaks of a zone, whatever it calls it.
_SPEAKS = re.compile(
    r"\btime\s?zone\b|\btimezone\b|\bzeitzone\b|\bfuseau\b|\b(zona|huso) horari[ao]\b|\bfuso orario\b|\bfuso horario\b"
    r"|\btijdzone\b|\bstrefa czasowa\b|\btidszon\b|\btz\b|\bzone\b|\bzona\b|\b(utc|time|gmt)? ?offset\b"
    r"|\b(is )?dst\b|\b(summer|winter|daylight) ?(time|saving\w*)\b|\bversatz\b|\bdecalage\b|\bdesfase\b"
)
# 'UTC offset: -300', 'isUtc: false', 'local, not UTC', 'exported 2026-05-30 08:00 UTC': none says the times are UTC.
_NOT_IN_UTC = re.compile(
    r"\b(offset|versatz|decalage|desfase|scostamento|przesuniecie|desvio|false|no|not|nein|kein\w*|nicht|non|pas|geen|niet"
    r"|nie|inte|nao|local|ortszeit|lokal\w*|locale?)\b|\d{4}-\d{2}-\d{2}|\d{1,2}[./]\d{1,2}[./]\d{2,4}|:\s{0,9}0$"
)
_TIMELY = re.compile(
    r"\b(times?|clock|zeit(en)?|uhr(zeit)?|heures?|horas?|or[ae]|orario|tijd(en)?|godzin[ay]|tid(er)?)\b"
)
_LOCAL = re.compile(r"\b(local|ortszeit|locale?|lokal\w*|lokale tijd|czas lokalny|lokal tid|hora local|ora locale)\b")


@cache
def _cities() -> re.Pattern[str]:
    """The places after which the zones of the tz data are named, as words of a line."""
    names = {folded(zone.rpartition("/")[2]).replace("_", " ") for zone in _known_zones() if "/" in zone}
    plain = sorted(name for name in names if name.replace(" ", "").isalpha() and len(name) > 3)
    return re.compile(r"\b(" + "|".join(map(re.escape, plain)) + r")\b")


@cache
def _known_zones() -> frozenset[str]:
    return frozenset(available_timezones())


def zone_of_text(text: str) -> str | None:
    """The zone a text states: a name of the tz data or UTC; '?' where it speaks of one unclearly; else None."""
    for found in _NAMED.findall(text):
        if found in _known_zones():
            return str(found)
    plain = folded(_CAMEL.sub(" ", text)).replace("_", " ")
    shifted = _OFFSET.search(text)
    if shifted is not None:
        return _of_offset(*shifted.groups())
    if _ABBREVIATIONS.search(text) or _REGIONS.search(plain):
        return "?"
    if _UTC.search(plain):
        return "?" if _NOT_IN_UTC.search(plain) else "UTC"
    if _TIMELY.search(plain) and _cities().search(plain):
        return "?"
    return "?" if _SPEAKS.search(plain) and not _LOCAL.search(plain) else None


def _of_offset(sign: str, hours: str, minutes: str | None) -> str:
    """Whole hours have a name of their own in the tz data, with the sign the other way round."""
    if int(minutes or 0) or int(hours) > 12:
        return "?"
    return "UTC" if int(hours) == 0 else f"Etc/GMT{'-' if sign == '+' else '+'}{int(hours)}"


def stated_zone(
    header: Iterable[str], above: Iterable[str], cells: tuple[str, ...], person: Person, evidence: Evidence
) -> str:
    """The zone of a table's times: what it states, else the person's own. What it states unclearly stays open.

    header  the labels of the time columns
    above   the lines above the table, or of the object that holds it
    cells   the different texts of a column of zones
    """
    said = [(zone, f"the header '{text}'") for text in header if (zone := zone_of_text(text)) is not None]
    said += [(zone, f"the line '{text[:60]}'") for text in above if (zone := zone_of_text(text)) is not None]
    said += [(zone_of_text(text) or "?", f"the cell '{text}'") for text in cells]
    zones = {zone for zone, _ in said}
    own = person.zone_now().key
    if not zones:
        return PERSONS
    if len(zones) == 1 and not any(_unclear(zone) for zone in zones):
        (zone,) = zones
        evidence.prove(f"times are in {zone}", f"{said[0][1]} says so")
        return zone
    unclear = next((where for zone, where in said if _unclear(zone)), said[0][1])
    offered = list(dict.fromkeys([own, "UTC", *sorted(zones - {"?"})]))
    evidence.open.append(OpenPoint(
        "zone_open", f"{unclear} speaks of a zone, and no offset is written with the times",
        "say under [clock] in a layout which zone they are in, by its name in the tz data: zone = \"America/New_York\"",
        tuple("the person's own zone, " + zone if zone == own else zone for zone in offered),
        tuple('zone = "person"' if zone == own else f'zone = "{zone}"' for zone in offered),
    ))  # fmt: skip
    return PERSONS


def _unclear(zone: str) -> bool:
    """An offset that someone wrote above a table of a whole year may be that of one half of it."""
    return zone == "?" or zone.startswith("Etc/")


def holds_zones(cells: tuple[str, ...]) -> bool:
    """Whether every text of a column names a zone and nothing else."""
    return bool(cells) and all(len(cell) <= 40 and _alone(cell) for cell in cells)


def speaks_of_zone(word: str) -> bool:
    """Whether a single word is a zone's name or the abbreviation of one, in capitals."""
    if "/" in word:  # names of one word, as Turkey, may be words of a note
        return word in _known_zones()
    return word.isupper() and (bool(_ABBREVIATIONS.fullmatch(word)) or word in _known_zones() | {"UTC", "GMT"})


def _alone(cell: str) -> bool:
    plain = folded(cell)
    return bool(
        (cell in _known_zones() and not cell.isdigit())
        or _ABBREVIATIONS.fullmatch(cell) or _OFFSET.fullmatch(cell) or plain in {"utc", "gmt", "z"}
        or _REGIONS.fullmatch(plain)
    )  # fmt: skip
