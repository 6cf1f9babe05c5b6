"""When a FHIR record happened: effective[x] alone. When it was issued or stored never stands in for it."""

from datetime import date
from typing import Final

from gramrise.connectors.fhir.elements import Observation, Period, Timed
from gramrise.connectors.standards import Hold, Instant, fhir_time

# A single value over a period is placed at its end; what is swallowed or done, at its start.
FROM_PERIOD_END: Final = "time_from_period_end"


def written(text: str, column: str) -> Instant | date | None:
    """A FHIR dateTime. Raises Hold where it is none."""
    try:
        return fhir_time(text)
    except ValueError as problem:
        raise Hold("not_a_time", column, text) from problem


def instant(text: str | None, column: str) -> Instant:
    """An instant. Raises Hold for a day, a month, a year, nothing, or no time at all."""
    if text is None:
        raise Hold("no_time", column)
    at = written(text, column)
    if not isinstance(at, Instant):
        raise Hold("no_time_of_day", column, text)
    return at


def measured_at(record: Observation, flags: list[str]) -> Instant:
    """The instant of a single measurement."""
    if record.effectivePeriod is not None:
        start, end = span(record.effectivePeriod)
        if end is None:
            raise Hold("no_time", "effectivePeriod.end", start)
        flags.append(FROM_PERIOD_END)
        return end
    if record.effectiveInstant is not None:
        return instant(record.effectiveInstant, "effectiveInstant")
    return instant(record.effectiveDateTime, "effectiveDateTime")


def begun_at(record: Timed) -> tuple[Instant, Instant | None]:
    """When something was given or done began, and when it ended, where that is said."""
    if record.effectivePeriod is None:
        if isinstance(record, Observation) and record.effectiveInstant is not None:
            return instant(record.effectiveInstant, "effectiveInstant"), None
        return instant(record.effectiveDateTime, "effectiveDateTime"), None
    start, end = span(record.effectivePeriod)
    if start is None:
        raise Hold("no_time", "effectivePeriod.start")
    return start, end


def span(period: Period) -> tuple[Instant | None, Instant | None]:
    """Start and end of a period, each with a time of day where it is there."""
    start = None if period.start is None else instant(period.start, "effectivePeriod.start")
    end = None if period.end is None else instant(period.end, "effectivePeriod.end")
    if start is not None and end is not None and end.utc < start.utc:
        raise Hold("time_reversed", "effectivePeriod", period.end)
    return start, end


def weighed_at(record: Observation) -> tuple[Instant | None, date | None]:
    """When a weighing was: the instant, or the day alone."""
    if record.effectivePeriod is not None or record.effectiveInstant is not None:
        return measured_at(record, []), None
    if record.effectiveDateTime is None:
        raise Hold("no_time", "effectiveDateTime")
    at = written(record.effectiveDateTime, "effectiveDateTime")
    if at is None:
        raise Hold("no_time", "effectiveDateTime", record.effectiveDateTime)
    return (at, None) if isinstance(at, Instant) else (None, at)
