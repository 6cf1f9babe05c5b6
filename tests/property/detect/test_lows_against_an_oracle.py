"""Lows against a second, plain implementation of the consensus rule, reading by reading."""

from collections import Counter
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from gramrise.detect import detect
from gramrise.domain.findings import Inputs
from gramrise.domain.frames import READINGS
from gramrise.domain.person import Dated, Person

START = datetime(2026, 3, 2, 22, 0, tzinfo=UTC)
LATER = datetime(2026, 6, 1, tzinfo=UTC)
PERSON = Person("P1", date(2016, 1, 1), Dated(((date.min, ZoneInfo("UTC")),)))

Reading = tuple[float, float, bool]  # minute, mg/dL, below range


@st.composite
def traces(draw: st.DrawFn) -> list[Reading]:
    """Stretches of a 1-, 5- or 15-minute sensor: missed and on-demand readings, seconds astray, gaps, floors."""
    step = draw(st.sampled_from([1, 5, 5, 15]))
    minute, rows = 0.0, []
    for _ in range(draw(st.integers(1, 4))):
        for value in draw(st.lists(st.sampled_from([39, 50, 53, 54, 60, 68, 69, 70, 71, 75, 90]), max_size=45)):
            astray = draw(st.sampled_from([0, 0, 0, 0, 10, -15])) / 60
            rows.append((minute + astray, float(max(value, 40)), value < 40))
            minute += step * draw(st.sampled_from([1, 1, 1, 1, 1, 1, 2, 3]))
        minute += draw(st.sampled_from([0, 4, 12, 21, 38, 90, 1500]))
    return sorted({round(m * 60): (m, v, b) for m, v, b in rows}.values())


def usual_steps(trace: list[Reading]) -> list[float]:
    """By the definition: the shortest whole step in which, with shorter ones, half of the watched time runs."""
    day = [int((START + timedelta(minutes=minute)).timestamp() // 86400) for minute, _, _ in trace]
    steps = [(day[n], round(trace[n + 1][0] - trace[n][0])) for n in range(len(trace) - 1)]
    steps = [(on, length) for on, length in steps if 1 <= length <= 20]
    found = []
    for own in day:
        near = [length for on, length in steps if abs(on - own) <= 1]
        enough = (n for n in range(1, 21) if 2 * sum(k for k in near if k <= n) >= sum(near))
        found.append(float(next(enough)) if near else 5.0)
    return found


def oracle(trace: list[Reading], threshold: float) -> list[tuple[float, float | None]]:
    """(start, minute of the return or None when the trace broke off) of every event below a threshold."""
    steps = usual_steps(trace)
    events: list[tuple[float, float | None]] = []
    going = False
    run_low, run_start, run_seen, judged = None, 0.0, 0.0, False
    for n, (minute, value, below_range) in enumerate(trace):
        low = value < threshold or (below_range and value <= threshold)
        gap = n > 0 and minute - trace[n - 1][0] > max(20, 2.5 * max(steps[n - 1], steps[n])) + 1e-9
        if gap:
            going = False
        if gap or low != run_low:
            run_low, run_start, run_seen, judged = low, minute, 0.0, False
        after = trace[n + 1][0] - minute if n + 1 < len(trace) else steps[n]
        run_seen += min(after, steps[n])
        if not judged and run_seen >= 15 - 0.5 - 1e-9:
            judged = True
            if low and not going:
                events.append((run_start, None))
                going = True
            elif not low and going:
                events[-1] = (events[-1][0], run_start)
                going = False
    return events


def frame(trace: list[Reading]) -> pl.DataFrame:
    rows = [
        {
            "person_id": "P1",
            "at_utc": START + timedelta(seconds=round(minute * 60)),
            "glucose_mg_dl": value,
            "range": "below" if below else "in",
            "offset_minutes": None,
        }
        for minute, value, below in trace
    ]
    return pl.DataFrame(rows, schema=READINGS.schema)


def whole_seconds(minute: float | None) -> datetime | None:
    return None if minute is None else START + timedelta(seconds=round(minute * 60))


@settings(max_examples=150, deadline=None)
@given(traces())
def test_lows_are_those_of_the_plain_rule(trace):
    lows = detect(Inputs(PERSON, readings=frame(trace)), LATER).lows
    expected = [(whole_seconds(start), whole_seconds(back)) for start, back in oracle(trace, 70)]
    found = [(row["start_utc"], None if row["ended_by_gap"] else row["end_utc"]) for row in lows.iter_rows(named=True)]
    assert found == expected


def test_a_low_is_level_2_exactly_when_the_plain_rule_finds_an_event_below_54_in_it():
    compared = Counter()

    @settings(max_examples=80, deadline=None)
    @given(traces())
    def holds(trace):
        lows = detect(Inputs(PERSON, readings=frame(trace)), LATER).lows
        deep = [whole_seconds(start) for start, _ in oracle(trace, 54)]
        for row in lows.iter_rows(named=True):
            inside = any(row["start_utc"] <= start < row["end_utc"] for start in deep)
            compared[inside] += 1
            assert row["level"] == (2 if inside else 1)

    holds()
    assert min(compared[True], compared[False]) >= 5, compared


@settings(max_examples=25, deadline=None)
@given(traces(), st.randoms(use_true_random=False))
def test_the_order_of_the_rows_changes_nothing(trace, shuffler):
    rows = frame(trace)
    order = list(range(rows.height))
    shuffler.shuffle(order)
    assert detect(Inputs(PERSON, readings=rows[order]), LATER).lows.equals(
        detect(Inputs(PERSON, readings=rows), LATER).lows
    )
