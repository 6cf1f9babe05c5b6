"""Detection four weeks at a time, each chunk remembered under a fingerprint of everything it reads.

A chunk holds the lows and treatments that begin in its four weeks. They are found from the inputs of these weeks and a
margin on both sides; where something reaches across the margin it is widened, so that chunks together give exactly what
`detect` finds in the whole.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from io import BytesIO
from itertools import count
from typing import Final

import numpy as np
import polars as pl

from gramrise.detect.detection import Detected, found_in, watched_of
from gramrise.detect.facts import Watched
from gramrise.detect.lows import settled_within
from gramrise.detect.questions import questions_of
from gramrise.detect.settings import DetectSettings, shipped
from gramrise.detect.trace import US_PER_DAY, US_PER_MINUTE, Instants, instants
from gramrise.detect.treatments import Chains, chain_doses
from gramrise.domain.findings import MODEL_VERSION, Inputs
from gramrise.domain.frames import DOSES, EVENTS, FINGERS, LOWS, SCREENED, TREATMENTS
from gramrise.domain.memo import Block, Memo, ReadingsByDay, fingerprint
from gramrise.domain.person import Dated, Person

LOWS_KIND: Final = "lows"
SCREENED_KIND: Final = "screened"
CHUNK_US: Final = 28 * US_PER_DAY  # our choice: few enough blocks, and one night reads few old readings
# Margins in days. The usual step looks at a day's neighbours, so the outer two days only serve the others; a day of the
# margin has to show that no low reaches across it; looks back and ahead (a day of insulin, two hours after a low) take
# the rest.
MARGIN_DAYS: Final = 5
STEP_DAYS: Final = 2
NEVER_ASKED: Final = b""  # a key that no result is asked for by
WIDER: Final = 4  # how much wider each next try is


@dataclass(frozen=True, slots=True)
class Logged:
    """Doses, finger-sticks and events in order of time, and each row as text to take fingerprints of."""

    doses: pl.DataFrame
    fingers: pl.DataFrame
    events: pl.DataFrame
    chains: Chains
    fingers_us: Instants
    events_us: Instants
    until_us: Instants  # end of each event; its start where none is known
    doses_text: list[str]
    fingers_text: list[str]
    events_text: list[str]

    @classmethod
    def of(cls, inputs: Inputs, settings: DetectSettings) -> "Logged":
        doses, fingers, events = DOSES.check(inputs.doses), FINGERS.check(inputs.fingers), EVENTS.check(inputs.events)
        return cls(
            doses,
            fingers,
            events,
            chain_doses(doses, settings),
            instants(fingers["at_utc"]),
            instants(events["at_utc"]),
            instants(events.select(pl.coalesce("until_utc", "at_utc")).to_series()),
            *(rows_as_text(frame) for frame in (doses, fingers, events)),
        )


def rows_as_text(frame: pl.DataFrame) -> list[str]:
    """Each row as one text; two rows that differ in any column give different texts."""
    columns = [
        pl.col(name).list.join("\x1e")
        if isinstance(dtype, pl.List)
        else (pl.col(name).dt.epoch("us") if isinstance(dtype, pl.Datetime) else pl.col(name)).cast(pl.String)
        for name, dtype in frame.schema.items()
    ]
    return (
        frame.select(pl.concat_str([each.fill_null("\x00") for each in columns], separator="\x1f"))
        .to_series()
        .to_list()
    )


@dataclass(frozen=True, slots=True)
class Span:
    """One chunk [begin_us, end_us) with its margins: what it reads of the trace and of the log."""

    begin_us: int
    end_us: int
    margin_us: int
    log_us: int  # how far back doses are read

    @property
    def reads_from_us(self) -> int:
        return self.begin_us - self.margin_us

    @property
    def reads_to_us(self) -> int:
        return self.end_us + self.margin_us


def detect_in_chunks(
    inputs: Inputs, readings: ReadingsByDay, now_utc: datetime, memo: Memo, settings: DetectSettings | None = None
) -> Detected:
    """The same as `detect` of the inputs with these readings; chunks that the memo holds are not read again.

    inputs   one person's inputs; its own readings are not looked at
    """
    settings = settings or shipped()
    logged = Logged.of(inputs, settings)
    marks = (
        MODEL_VERSION,
        settings.model_dump_json(),
        _told_of(inputs.person),
        repr(LOWS.schema),
        repr(SCREENED.schema),
    )
    mark = fingerprint(*marks)
    found = [
        _chunk(inputs.person, logged, readings, now_utc, number, mark, memo, settings)
        for number in _chunk_numbers(logged, readings)
    ]
    lows = pl.concat([LOWS.empty(), *(each[0] for each in found)])
    screened = pl.concat([SCREENED.empty(), *(each[1] for each in found)])
    questions = questions_of(inputs.person, screened, inputs.doses, settings)
    return Detected(lows, screened.select(list(TREATMENTS.schema)), screened, questions)


def _told_of(person: Person) -> str:
    """What detection knows of a person: everything but the name, and of weighings whether there are any."""
    return f"{replace(person, name='', weights_kg=Dated())!r} {bool(person.weights_kg.entries)}"


def _chunk_numbers(logged: Logged, readings: ReadingsByDay) -> list[int]:
    """Chunks that hold a reading or a dose, in order of time."""
    dosed = set((logged.chains.taken_us // CHUNK_US).tolist())
    read = {
        (readings.first_day + nth) * US_PER_DAY // CHUNK_US for nth, print_ in enumerate(readings.prints) if any(print_)
    }
    return sorted(dosed | read)


def _chunk(
    person: Person,
    logged: Logged,
    readings: ReadingsByDay,
    now_utc: datetime,
    number: int,
    mark: bytes,
    memo: Memo,
    settings: DetectSettings,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """LOWS and SCREENED that begin in one chunk. What the usual margin does not settle is found anew every time."""
    spans = _spans(number, settings)
    span = next(spans)
    key = _key(span, logged, readings, now_utc, mark)
    known = memo.recall(LOWS_KIND, number, key), memo.recall(SCREENED_KIND, number, key)
    if known[0] is not None and known[1] is not None:
        return pl.read_ipc_stream(BytesIO(known[0])), pl.read_ipc_stream(BytesIO(known[1]))
    lows, screened, settled = _found(person, logged, readings, now_utc, span, settings)
    while not settled:
        key = NEVER_ASKED
        lows, screened, settled = _found(person, logged, readings, now_utc, next(spans), settings)
    memo.remember(block_of(LOWS_KIND, number, key, lows, "start_utc"))
    memo.remember(block_of(SCREENED_KIND, number, key, screened, "first_dose_utc"))
    return lows, screened


def _spans(number: int, settings: DetectSettings) -> Iterator[Span]:
    """The chunk with its usual margin, then with wider and wider ones."""
    log_us = int((settings.log_kept_days + 1) * US_PER_DAY)
    for nth in count():
        margin_us = MARGIN_DAYS * WIDER**nth * US_PER_DAY
        yield Span(number * CHUNK_US, (number + 1) * CHUNK_US, margin_us, max(log_us, margin_us))


def _rows_read(span: Span, logged: Logged) -> tuple[slice, slice, np.ndarray]:
    """Rows of doses, finger-sticks and events that a span reads. Chains of doses are never cut."""
    starts = logged.chains.first_us
    first, past = np.searchsorted(starts, [span.begin_us - span.log_us, span.reads_to_us]).tolist()
    ends = np.append(logged.chains.first, len(logged.chains.taken_us))
    doses = slice(int(ends[max(first - 1, 0)]), int(ends[past]))
    fingers = slice(*np.searchsorted(logged.fingers_us, [span.reads_from_us, span.reads_to_us]).tolist())
    events = np.flatnonzero((logged.until_us >= span.reads_from_us) & (logged.events_us < span.reads_to_us))
    return doses, fingers, events


def _key(span: Span, logged: Logged, readings: ReadingsByDay, now_utc: datetime, mark: bytes) -> bytes:
    doses, fingers, events = _rows_read(span, logged)
    last = readings.last_us
    at_the_end = last is not None and span.reads_from_us <= last < span.reads_to_us
    return fingerprint(
        mark,
        readings.prints_between(span.reads_from_us, span.reads_to_us),
        "\n".join(logged.doses_text[doses]),
        "\n".join(logged.fingers_text[fingers]),
        "\n".join([logged.events_text[row] for row in events.tolist()]),
        now_utc.isoformat() if at_the_end else "",  # only there can a low still be going on
    )


def _found(
    person: Person, logged: Logged, readings: ReadingsByDay, now_utc: datetime, span: Span, settings: DetectSettings
) -> tuple[pl.DataFrame, pl.DataFrame, bool]:
    """LOWS and SCREENED of a chunk, and whether nothing reaches across its margins."""
    doses, fingers, events = _rows_read(span, logged)
    part = Inputs(
        person,
        readings=readings.fetch(span.reads_from_us, span.reads_to_us),
        fingers=logged.fingers[fingers],
        doses=logged.doses[doses],
        events=logged.events[events],
    )
    watched = watched_of(part, now_utc, settings)
    lows, _, screened = found_in(watched)
    settled = _settled_before(watched, readings, span) and _ended_after(lows, screened, readings, span)
    return _begun_in(lows, "start_utc", span), _begun_in(screened, "first_dose_utc", span), settled


def _settled_before(watched: Watched, readings: ReadingsByDay, span: Span) -> bool:
    """Whether what came before the margin cannot matter."""
    if readings.first_us is None or span.reads_from_us <= readings.first_us:
        return True
    outer = span.reads_from_us + STEP_DAYS * US_PER_DAY
    return settled_within(watched.trace, outer, span.begin_us - US_PER_DAY, watched.settings)


def _ended_after(lows: pl.DataFrame, screened: pl.DataFrame, readings: ReadingsByDay, span: Span) -> bool:
    """Whether what comes after the margin cannot matter: all that begins before its second day ends within it."""
    if readings.last_us is None or span.reads_to_us > readings.last_us:
        return True
    second = span.end_us + US_PER_DAY
    near = second + int(3 * 60 * US_PER_MINUTE)
    ends = lows["end_utc"].dt.epoch("us").fill_null(np.iinfo(np.int64).max).to_numpy()
    lows_end = ends[instants(lows["start_utc"]) < near]
    doses_end = instants(screened["last_dose_utc"])[instants(screened["first_dose_utc"]) < span.end_us]
    return bool((lows_end < second + US_PER_DAY).all() and (doses_end < second).all())


def _begun_in(frame: pl.DataFrame, column: str, span: Span) -> pl.DataFrame:
    rows = np.searchsorted(instants(frame[column]), [span.begin_us, span.end_us]).tolist()
    return frame[slice(*rows)]


def block_of(kind: str, slot: int, key: bytes, frame: pl.DataFrame, column: str) -> Block:
    """A frame as a block; `column` holds the instants of its rows, in order."""
    into = BytesIO()
    frame.write_ipc_stream(into, compression="zstd")
    at_us = instants(frame[column])
    first, last = (int(at_us[0]), int(at_us[-1])) if len(at_us) else (0, 0)
    return Block(kind, slot, key, frame.height, first, last, into.getvalue())
