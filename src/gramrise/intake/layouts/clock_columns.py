"""Which columns of an unknown table say when."""

import re
from datetime import UTC, datetime
from typing import Literal

from gramrise.connectors.layout import Clock
from gramrise.domain.person import Person
from gramrise.intake.cells import offset_minutes
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.labels import PERSONS, holds_zones, stated_zone, zone_of_text
from gramrise.intake.layouts.column_profiles import ColumnProfile
from gramrise.intake.words import HeaderWords, folded

_TIMELY = ("when", "date", "time_of_day")
_NOT_WHEN = {"not_time", "not_itself"}  # an export, a birth, the length of something: not when the row happened
_EPOCH_DIGITS = (10, 13)
_SERIAL_DIGITS = 5
_OWN_OFFSET = re.compile(r"(Z|[+-]\d{2}:?\d{2}|[+-]\d{2}|UTC|GMT)(\[.*\])?\Z")
_MOST_HOURS = 14  # the largest offset in use is +14:00: a larger number counts minutes or seconds
_OFFSET_READINGS: tuple[tuple[str, ...], tuple[str, ...]] = (
    ("the times are UTC", "the times are local, in the person's own zone"),
    ('zone = "UTC"', 'zone = "person"'),
)
_NIGHT = re.compile(r"\b(nacht|nachte|night|nights|nuit|noche|notte|noc|natt|noite)\b")
_WRITTEN_DOWN = re.compile(
    r"\b(entered|logged|written|noted|typed|saved|submitted|eingetragen|eingegeben|notiert|aufgeschrieben|protokolliert"
    r"|vermerkt|dokumentiert|gespeichert|saisie?|inscrite?|notee?|anotad[oa]|apuntad[oa]|registrad[oa]|inserit[oa]"
    r"|ingevoerd|genoteerd|wpisan[oa]|zapisan[oa]|inskriven|antecknad|anotado)\b"
)
OffsetUnit = Literal["hours", "minutes", "seconds"]


def clock_of(
    columns: list[ColumnProfile], preamble: tuple[str, ...], person: Person, words: HeaderWords, evidence: Evidence
) -> Clock | None:
    """The table's clock, with its formats still open; None (and an open point) where nothing says when."""
    timed = _timed(columns, evidence)
    if timed is None:
        return None
    carried = len(timed) == 2 and timed[0].filled < timed[1].filled
    timed = _with_half_day(timed, columns, words, evidence)
    others = [column for column in columns if column not in timed]
    names = tuple(column.name for column in timed)
    zones = [column for column in others if holds_zones(column.examples) and column.different <= len(column.examples)]
    offset = next((column for column in others if _is_offset(column) and column not in zones), None)
    if offsets_written(timed):
        return Clock(columns=names, day_carried=carried)
    labels = [column.label for column in timed]
    cells = tuple(cell for column in zones for cell in column.examples)
    if offset is None:
        zone = stated_zone(labels, preamble, cells, person, evidence)
        return Clock(columns=names, day_carried=carried, zone=zone)
    unit = _offset_unit(offset, labels, person, evidence)
    if any(point.code == "offset_open" for point in evidence.open):  # the answer says whether the column counts
        return Clock(columns=names, day_carried=carried, zone=PERSONS)
    return Clock(columns=names, offset_column=offset.name, offset_unit=unit, day_carried=carried, zone=PERSONS)


def _with_half_day(
    timed: list[ColumnProfile], columns: list[ColumnProfile], words: HeaderWords, evidence: Evidence
) -> list[ColumnProfile]:
    """The columns that say when, and behind them a column of nothing but am and pm where there is one."""
    halves = {folded(word) for half in ("am", "pm") for word in words.clock[half]}
    found = [column for column in columns if column not in timed and {folded(c) for c in column.examples} <= halves]
    if len(found) != 1 or timed[-1].holds not in {"moment", "clock"}:
        return timed
    if found[0].filled < timed[-1].filled:
        evidence.open.append(OpenPoint(
            "half_day_open", f"column '{found[0].label}' says morning or afternoon, and is blank in some rows",
            "write am or pm in each row, or export the table with 24 hours",
        ))  # fmt: skip
    evidence.prove(f"'{found[0].label}' says which half of the day it was", f"such as '{found[0].examples[0]}'")
    return [*timed, found[0]]


def offsets_written(timed: list[ColumnProfile]) -> bool:
    """Whether each time carries its own offset, or is a count of seconds."""
    if timed[-1].holds == "number":
        return True
    return timed[-1].holds != "day" and all(_OWN_OFFSET.search(cell) for cell in timed[-1].examples)


def _is_offset(column: ColumnProfile) -> bool:
    if "offset" in column.meanings:
        return True
    return "zone" in column.meanings and all(offset_minutes(cell, "minutes") is not None for cell in column.examples)


def _offset_unit(column: ColumnProfile, labels: list[str], person: Person, evidence: Evidence) -> OffsetUnit:
    """Whether plain numbers of an offset count hours, minutes or seconds. Open where nothing says or proves it."""
    unit = _counted_unit(column)
    read = [offset_minutes(cell, unit or "hours") for cell in column.examples]
    what = ""
    readings, lines = _OFFSET_READINGS
    if _bare(column):
        what = f"column '{column.label}' holds bare numbers such as '{column.examples[0]}'"
        readings, lines = (
            (*readings, "it is the offset from UTC in hours"),
            (*lines, f'offset_column = "{column.name}"'),
        )
    elif unit is None or any(minutes is None for minutes in read):
        what = f"'{column.examples[0]}' in column '{column.label}' is no offset from UTC that is known"
    elif any("utc" in label.casefold() for label in labels):
        what = f"the header says UTC, and column '{column.label}' states an offset"
    elif {"zone", "offset"} <= column.meanings and unit == "minutes" and not _own_offsets(read, person):
        what = (
            f"minutes of a time zone's offset, as in '{column.label}', count east in some programs and west in others"
        )
        readings, lines = (
            (*readings, "they count minutes east of UTC"),
            (*lines, f'offset_column = "{column.name}"\noffset_unit = "minutes"'),
        )
    elif _other_way_round([minutes for minutes in read if minutes is not None], person):
        what = f"the offsets of column '{column.label}' are the person's own with the other sign"
    if what:
        evidence.open.append(OpenPoint(
            "offset_open", what, "write the offset behind the times, as +02:00, or say the zone under [clock]",
            readings, lines,
        ))  # fmt: skip
    else:
        evidence.prove(f"'{column.label}' is the offset from UTC, in {unit}", "its header and its cells say so")
    return unit or "hours"


def _bare(column: ColumnProfile) -> bool:
    """Small numbers without a sign of east, minutes or UTC: a summer time of 0 or 1, a zone's number, hours west?"""
    if re.search(r"utc|gmt|hour|stunde|heure|hora", column.label.casefold()):
        return False
    return any(re.fullmatch(r"-?\d{1,2}", cell.replace("\u2212", "-")) for cell in column.examples)


def _counted_unit(column: ColumnProfile) -> OffsetUnit | None:
    numbers = [abs(number) for cell in column.examples if (number := _plain(cell)) is not None]
    if not numbers or max(numbers) == 0:
        return "hours"
    most, label = max(numbers), column.label.casefold()
    if most <= _MOST_HOURS:
        return "hours" if not re.search(r"min|sec|sek", label) else None
    if most <= _MOST_HOURS * 60:
        return "minutes" if all(number % 15 == 0 for number in numbers) else None
    return "seconds" if most <= _MOST_HOURS * 3600 and all(number % 900 == 0 for number in numbers) else None


def _plain(cell: str) -> float | None:
    if re.fullmatch(r"[+-][01]\d[0-5]\d", cell):  # +0130, an hour and a half
        return None
    try:
        return float(cell.replace(",", ".").replace("\u2212", "-"))
    except ValueError:
        return None


def _other_way_round(minutes: list[int], person: Person) -> bool:
    """Some programs write minutes west of UTC."""
    if 0 in minutes or not minutes:
        return False
    own = _offsets_of(person)
    return all(-value in own and value not in own for value in minutes)


def _own_offsets(minutes: list[int | None], person: Person) -> bool:
    """Whether all offsets are such as the person's own zone has."""
    return {one for one in minutes if one is not None} <= _offsets_of(person)


def _offsets_of(person: Person) -> set[int]:
    """The minutes east of UTC of the person's zone, in winter and in summer."""
    zone = person.zone_now()
    return {
        round(shift.total_seconds() / 60)
        for month in (1, 7)
        if (shift := datetime(2026, month, 1, tzinfo=UTC).astimezone(zone).utcoffset()) is not None
    }


def _timed(columns: list[ColumnProfile], evidence: Evidence) -> list[ColumnProfile] | None:
    """The one or two columns that say when."""
    own = [column for column in columns if not column.meanings & _NOT_WHEN]
    moments = _chosen([column for column in own if column.holds == "moment"])
    days = _chosen([column for column in own if column.holds == "day"])
    clocks = _chosen([column for column in own if column.holds == "clock"])
    several = moments if len(moments) > 1 else [] if moments else days if len(days) > 1 else clocks
    if len(several) > 1:
        evidence.open.append(_several("clock_open", several))
        return None
    if moments:
        _check_known(moments[0], evidence)
        evidence.prove(f"'{moments[0].label}' is the time", "its cells are dates with a time of day")
        return moments
    if days and clocks:
        for column in (days[0], clocks[0]):
            _check_known(column, evidence)
        _check_no_night(days[0], evidence)
        evidence.prove(f"'{days[0].label}' and '{clocks[0].label}' are the time", "cells are days and times of day")
        return [*days, *clocks]
    if days:
        evidence.prove(f"'{days[0].label}' is the day", "its cells are dates")
        return days
    return _counted(columns, clocks, evidence)


def _check_known(column: ColumnProfile, evidence: Evidence) -> None:
    """'Server time': a word that nobody knows beside a word for time may make it another time than the row's."""
    if column.said.unknown and column.meanings & set(_TIMELY) and zone_of_text(column.label) is None:
        word = column.said.unknown[0]
        evidence.open.append(OpenPoint(
            "clock_open", f"'{word}' in column '{column.label}' is not known; is it when the row was?",
            "head the column 'time', or say so under [clock] in a layout",
            (f"'{column.label}' is the time, in the person's own zone", f"'{column.label}' is the time, in UTC"),
            (f'columns = ["{column.name}"]', f'columns = ["{column.name}"]\nzone = "UTC"'),
        ))  # fmt: skip


def _check_no_night(column: ColumnProfile, evidence: Evidence) -> None:
    """'Nacht vom': the night of the 20th goes on after midnight, on the 21st."""
    if _NIGHT.search(folded(column.label)):
        evidence.open.append(OpenPoint(
            "night_open", f"column '{column.label}' names the night, and its times before noon may be of the next day",
            "write in each row the day on which it was, under the header date, or say so under [clock] in a layout",
            ("each row has the day on which it was",), (f'columns = ["{column.name}", "..."]',),
        ))  # fmt: skip


def check_no_entry_time(timed: list[ColumnProfile], evidence: Evidence) -> None:
    """Adds an open point for a time at which what was given may only have been written down."""
    for column in timed:
        if _WRITTEN_DOWN.search(folded(column.label)):
            evidence.open.append(OpenPoint(
                "clock_open", f"column '{column.label}' may say when the row was written down, not when it was given",
                "write when it was given, under the header time, or say so under [clock] in a layout",
                (f"'{column.label}' is when it was given",), (f'columns = ["{column.name}"]',),
            ))  # fmt: skip


def _chosen(columns: list[ColumnProfile]) -> list[ColumnProfile]:
    """Of several, those that a header word calls a time and not an end."""
    begins = [column for column in columns if "until" not in column.meanings] or columns
    timely = [column for column in begins if column.meanings & set(_TIMELY)]
    return timely if len(begins) > 1 and timely else begins


def _counted(
    columns: list[ColumnProfile], clocks: list[ColumnProfile], evidence: Evidence
) -> list[ColumnProfile] | None:
    """Times as counts: seconds or milliseconds since 1970, days of a spreadsheet. Only under a word for time."""
    counts = [column for column in columns if column.meanings & set(_TIMELY) and _is_count(column)]
    if len(counts) == 1:
        evidence.prove(f"'{counts[0].label}' is the time", "its header says so and its cells are counts")
        return counts
    passed = [column for column in columns if column.holds in {"moment", "day"} and column.meanings & _NOT_WHEN]
    if passed and not clocks:
        evidence.open.append(_several("clock_open", passed))
    elif clocks:
        what, mend = f"column '{clocks[0].label}' has times of day, and nothing has the days", "add the days"
        evidence.open.append(OpenPoint("no_day", what, mend))
    else:
        evidence.open.append(OpenPoint("no_clock", "no column holds times", "say in a layout which one does"))
    return None


def _is_count(column: ColumnProfile) -> bool:
    if column.holds != "number":
        return False
    whole = [text.split(".")[0].split(",")[0] for text in column.examples]
    return all(text.isascii() and text.isdigit() and len(text) in (*_EPOCH_DIGITS, _SERIAL_DIGITS) for text in whole)


def _several(code: str, columns: list[ColumnProfile]) -> OpenPoint:
    return OpenPoint(
        code,
        "more than one column may be the time: " + ", ".join(f"'{column.label}'" for column in columns),
        "say which under [clock] in a layout",
        tuple(f"'{column.label}' is the time" for column in columns),
        tuple(f'columns = ["{column.name}"]' for column in columns),
    )
