"""What else changed, dated on the axis of the number's course. It stands beside a change, never as its cause."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import Final, TypeVar

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.detect.trace import Trace
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.person import Person
from gramrise.domain.words import EventKind
from gramrise.report.review.numbers.span import Span, midnight
from gramrise.report.review.numbers.view import Happened, WeekLogged

T = TypeVar("T")

DAYS_IN_A_WEEK: Final = 7
US_PER_MINUTE: Final = 60_000_000
EATEN: Final = ("insulin", "food")
WRITTEN_DOWN: Final = ("treated", "treated_untimed", "food_covered")
# Kinds of events that are told day by day; insulin and food are told by the week.
TOLD: Final = (EventKind.ILLNESS, EventKind.SENSOR_START, EventKind.NOTE)


def happened_in(span: Span, inputs: Inputs) -> tuple[Happened, ...]:
    """Facts that changed and what the family logged, from the span's first day on, by day."""
    told = [*_facts(inputs.person), *_steps(span), *_logged(inputs, span)]
    kept = [each for each in told if span.from_on <= each.on <= span.to_on]
    return tuple(sorted(kept, key=lambda each: (each.on, each.code, each.text)))


def _facts(person: Person) -> Iterator[Happened]:
    """Dated facts, each with what held before; the first entry of a fact is no change."""
    for _, on, now in _changes(person.delivery.entries):
        yield Happened(on=on, code="delivery", text=str(now))
    for _, on, bands in _changes(person.bands.entries):
        yield Happened(on=on, code="bands", text=", ".join(f"{band.name} {band.hours}" for band in bands))
    for _, on, zone in _changes(person.zone.entries):
        yield Happened(on=on, code="zone", text=zone.key)
    for before, on, target in _changes(person.target_mg_dl.entries):
        yield Happened(on=on, code="target", before=before, value=target)
    for on, kg in person.weights_kg.entries:
        yield Happened(on=on, code="weighed", value=kg)
    for _, on, plan in _changes(person.care_plan.entries):
        yield Happened(on=on, code="plan", text=plan.approved_by)
    for _, on, complete in _changes(person.log_complete_from.entries):
        yield Happened(on=on, code="log_complete" if complete else "log_incomplete")
    yield from _strengths(person)


def _changes(entries: tuple[tuple[date, T], ...]) -> Iterator[tuple[T, date, T]]:
    """(before, day, after) of each entry that differs from the one before it."""
    return ((before, on, after) for (_, before), (on, after) in pairwise(entries) if before != after)


def _strengths(person: Person) -> Iterator[Happened]:
    """A source that came, went, or is of another strength than before."""
    for before, on, now in _changes(person.sources.entries):
        known = {source.name: source.glucose_per_unit_g for source in before}
        for source in now:
            if source.name not in known:
                yield Happened(on=on, code="source_new", text=source.name)
            elif known[source.name] != source.glucose_per_unit_g:
                yield Happened(
                    on=on,
                    code="strength",
                    text=source.name,
                    before=known[source.name],
                    value=source.glucose_per_unit_g,
                )
        gone = known.keys() - {source.name for source in now}
        for name in sorted(gone):
            yield Happened(on=on, code="source_gone", text=name)


def _steps(span: Span) -> Iterator[Happened]:
    """A sensor that reads in another step than before: another kind of sensor, seen in the readings themselves."""
    trace = span.trace
    if len(trace) == 0:
        return
    days = (trace.at_us // (24 * 60 * US_PER_MINUTE)).astype(np.int64)
    edges = np.flatnonzero(np.diff(days, prepend=days[0] - 1))
    steps = [(int(trace.at_us[row]), float(trace.step_minutes[row])) for row in edges]
    for (_, before), (at, now) in pairwise(steps):
        if before != now:
            on = span.day(datetime.fromtimestamp(at / 1e6, span.zone))
            yield Happened(on=on, code="sensor_step", before=before, value=now)


def _logged(inputs: Inputs, span: Span) -> Iterator[Happened]:
    start, end = span.ends
    told = inputs.events.filter(
        pl.col("kind").is_in([str(kind) for kind in TOLD]), pl.col("at_utc") >= start, pl.col("at_utc") < end
    )
    for row in told.iter_rows(named=True):
        until = row["until_utc"]
        last = span.day(until) if until is not None else None
        yield Happened(on=span.day(row["at_utc"]), code=row["kind"], until=last, text=row["text"])


def weeks_in(span: Span, inputs: Inputs, findings: Findings) -> tuple[WeekLogged, ...]:
    """Whole weeks back from the span's last day to the first with readings, the oldest first."""
    first_days = _first_days(span)
    edges = np.array([_us(midnight(day, span.zone)) for day in first_days] + [_us(span.ends[1])], dtype=np.int64)
    insulin, food = (_sums(inputs.events.filter(pl.col("kind") == kind), "at_utc", "amount", edges) for kind in EATEN)
    grams, _ = _sums(inputs.doses, "taken_at_utc", "grams", edges)
    written = findings.lows.filter(pl.col("outcome").is_in(WRITTEN_DOWN))
    lows_n, written_n = (_counts(frame, "start_utc", edges) for frame in (findings.lows, written))
    found = []
    for at, (day, after) in enumerate(pairwise([*first_days, span.to_on + timedelta(days=1)])):
        days = (after - day).days
        found.append(
            WeekLogged(
                week=day,
                days_n=days,
                insulin_units_a_day=_a_day(insulin, at, days),
                carbohydrate_g_a_day=_a_day(food, at, days),
                glucose_g_a_day=round(float(grams[at]) / days, 2),
                lows_n=int(lows_n[at]),
                lows_logged_n=int(written_n[at]),
                covered=covered_between(span.trace, midnight(day, span.zone), midnight(after, span.zone)),
            )
        )
    return tuple(found)


def _first_days(span: Span) -> list[date]:
    """The first day of each week; none where there is no reading in the span."""
    if len(span.trace) == 0:
        return []
    begins = max(span.from_on, span.day(datetime.fromtimestamp(int(span.trace.at_us[0]) / 1e6, span.zone)))
    weeks = max(0, (span.to_on - begins).days + 1) // DAYS_IN_A_WEEK
    return [span.to_on - timedelta(days=DAYS_IN_A_WEEK * back - 1) for back in range(weeks, 0, -1)]


def _us(at: datetime) -> int:
    return int(at.timestamp() * 1e6)


def _counts(frame: pl.DataFrame, column: str, edges: NDArray[np.int64]) -> NDArray[np.int64]:
    """Rows between each two edges."""
    return np.asarray(
        np.histogram(frame[column].dt.epoch("us").to_numpy(), edges)[0] if len(edges) > 1 else [], np.int64
    )


def _sums(
    frame: pl.DataFrame, column: str, amount: str, edges: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Sum and number of the known amounts between each two edges."""
    known = frame.filter(pl.col(amount).is_not_null())
    if len(edges) < 2:
        return np.empty(0), np.empty(0, np.int64)
    sums, _ = np.histogram(known[column].dt.epoch("us").to_numpy(), edges, weights=known[amount].to_numpy())
    return np.asarray(sums, np.float64), _counts(known, column, edges)


def _a_day(told: tuple[NDArray[np.float64], NDArray[np.int64]], at: int, days: int) -> float | None:
    sums, counts = told
    return round(float(sums[at]) / days, 1) if counts[at] else None


def covered_between(trace: Trace, start: datetime, end: datetime) -> float:
    """Share of the time for which a reading stands."""
    ends = np.array([_us(start), _us(end)])
    first, last = trace.first_at(ends)
    return round(float(trace.stands_minutes[first:last].sum()) * US_PER_MINUTE / float(ends[1] - ends[0]), 4)


def longest_gap_hours(trace: Trace, start: datetime, end: datetime) -> float:
    """The longest stretch without a reading up to the last one: of what comes after it nothing is known yet."""
    ends = np.array([_us(start), _us(end)])
    first, last = trace.first_at(ends)
    at = np.concatenate([ends[:1], trace.at_us[first:last]])
    longest = np.diff(at).max() if at.size > 1 else ends[1] - ends[0]
    return round(float(longest) / US_PER_MINUTE / 60, 2)
