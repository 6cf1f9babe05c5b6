"""Which columns of an unknown table say when."""

from gramrise.connectors.layout import Clock
from gramrise.intake.columns import Column
from gramrise.intake.evidence import Findings, OpenPoint

_TIMELY = ("when", "date", "time_of_day")
_EPOCH_DIGITS = (10, 13)
_SERIAL_DIGITS = 5


def clock_of(columns: list[Column], found: Findings) -> Clock | None:
    """The table's clock, its formats still to be settled; None (and an open point) where nothing says when."""
    offset = next((column.name for column in columns if "offset" in column.meanings), "")
    moments = _chosen([column for column in columns if column.holds == "moment"])
    if len(moments) > 1:
        found.open.append(_several("clock_open", moments))
        return None
    if moments:
        found.prove(f"'{moments[0].label}' is the time", "its cells are dates with a time of day")
        return Clock(columns=(moments[0].name,), offset_column=offset)
    days = _chosen([column for column in columns if column.holds == "day"])
    clocks = _chosen([column for column in columns if column.holds == "clock"])
    if len(days) == 1 and len(clocks) == 1:
        carried = days[0].filled < clocks[0].filled
        found.prove(f"'{days[0].label}' and '{clocks[0].label}' are the time", "cells are days and times of day")
        return Clock(columns=(days[0].name, clocks[0].name), offset_column=offset, day_carried=carried)
    if len(days) > 1 or len(clocks) > 1:
        found.open.append(_several("clock_open", days if len(days) > 1 else clocks))
        return None
    if len(days) == 1:
        found.prove(f"'{days[0].label}' is the day", "its cells are dates")
        return Clock(columns=(days[0].name,), offset_column=offset)
    return _counted(columns, clocks, offset, found)


def _chosen(columns: list[Column]) -> list[Column]:
    """Of several, those that a header word calls a time and not an end."""
    begins = [column for column in columns if "until" not in column.meanings] or columns
    timely = [column for column in begins if column.meanings & set(_TIMELY)]
    return timely if len(begins) > 1 and timely else begins


def _counted(columns: list[Column], clocks: list[Column], offset: str, found: Findings) -> Clock | None:
    """Times as counts: seconds or milliseconds since 1970, days of a spreadsheet. Only under a word for time."""
    counts = [column for column in columns if column.meanings & set(_TIMELY) and _is_count(column)]
    if len(counts) == 1:
        found.prove(f"'{counts[0].label}' is the time", "its header says so and its cells are counts")
        return Clock(columns=(counts[0].name,), offset_column=offset)
    if clocks:
        what, mend = f"column '{clocks[0].label}' has times of day, and nothing has the days", "add the days"
        found.open.append(OpenPoint("no_day", what, mend))
    else:
        found.open.append(OpenPoint("no_clock", "no column holds times", "say in a layout which one does"))
    return None


def _is_count(column: Column) -> bool:
    if column.holds != "number":
        return False
    whole = [text.split(".")[0].split(",")[0] for text in column.examples]
    return all(text.isascii() and text.isdigit() and len(text) in (*_EPOCH_DIGITS, _SERIAL_DIGITS) for text in whole)


def _several(code: str, columns: list[Column]) -> OpenPoint:
    return OpenPoint(
        code,
        "more than one column may be the time: " + ", ".join(f"'{column.label}'" for column in columns),
        "say which under [clock] in a layout",
        tuple(f"'{column.label}' is the time" for column in columns),
        tuple(f'columns = ["{column.name}"]' for column in columns),
    )
