"""Which columns of an unknown table say when."""

import re
from collections.abc import Iterable

from gramrise.connectors.layout import Clock
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.layouts.column_profiles import ColumnProfile
from gramrise.intake.words import header_words

_TIMELY = ("when", "date", "time_of_day")
_EPOCH_DIGITS = (10, 13)
_SERIAL_DIGITS = 5
# Abbreviations are not unique (our notes on time, case l26): they are no zone, only a sign that one is meant.
_ZONE_WORDS = re.compile(r"\b(utc|gmt|cest|cet|mesz|mez|est|edt|cst|cdt|mst|mdt|pst|pdt|bst|ist|zulu)\b")


def clock_of(columns: list[ColumnProfile], preamble: tuple[str, ...], evidence: Evidence) -> Clock | None:
    """The table's clock, with its formats still open; None (and an open point) where nothing says when."""
    offset = next((column.name for column in columns if "offset" in column.meanings), "")
    timed = _timed(columns, evidence)
    if timed is None:
        return None
    carried = len(timed) == 2 and timed[0].filled < timed[1].filled
    zone = _zone([column.label for column in timed], preamble, bool(offset), evidence)
    names = tuple(column.name for column in timed)
    return Clock(columns=names, offset_column=offset, day_carried=carried, zone=zone)


def _timed(columns: list[ColumnProfile], evidence: Evidence) -> list[ColumnProfile] | None:
    """The one or two columns that say when."""
    moments = _chosen([column for column in columns if column.holds == "moment"])
    days = _chosen([column for column in columns if column.holds == "day"])
    clocks = _chosen([column for column in columns if column.holds == "clock"])
    several = moments if len(moments) > 1 else [] if moments else days if len(days) > 1 else clocks
    if len(several) > 1:
        evidence.open.append(_several("clock_open", several))
        return None
    if moments:
        evidence.prove(f"'{moments[0].label}' is the time", "its cells are dates with a time of day")
        return moments
    if days and clocks:
        evidence.prove(f"'{days[0].label}' and '{clocks[0].label}' are the time", "cells are days and times of day")
        return [*days, *clocks]
    if days:
        evidence.prove(f"'{days[0].label}' is the day", "its cells are dates")
        return days
    return _counted(columns, clocks, evidence)


def _zone(labels: list[str], preamble: tuple[str, ...], offset: bool, evidence: Evidence) -> str:
    """UTC where the header says so; open where a header or the lines above speak of some other zone."""
    words = [word for label in labels for word in header_words(label)]
    header = " ".join([*labels, *words]).casefold().replace("_", " ")
    if offset or not names_a_zone([header, *preamble]):
        return "person"
    if re.search(r"\b(utc|gmt)\b(?! ?[+-]?\d)", header):
        evidence.prove("times are UTC", f"the header '{' '.join(labels)}' says so")
        return "UTC"
    evidence.open.append(OpenPoint(
        "zone_open", "a zone is named above the times, and no offset is written with them",
        "say under [clock] in a layout which zone they are in", ("the person's own zone", "UTC"),
        ('zone = "person"', 'zone = "UTC"'),
    ))  # fmt: skip
    return "person"


def names_a_zone(lines: Iterable[str]) -> bool:
    """Whether header or preamble speak of a zone of their own."""
    return bool(_ZONE_WORDS.search(" ".join(lines).casefold().replace("_", " ")))


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
    if clocks:
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
