"""One person's inputs to lows, treatments and screened treatments: whole, or from the earliest instant that changed."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np
import polars as pl

from gramrise.detect.facts import Watched, low_facts, sensor_doubted
from gramrise.detect.lows import low_events
from gramrise.detect.outcomes import given_for_lows, lows_frame
from gramrise.detect.questions import questions_of
from gramrise.detect.screening import Offered, screen
from gramrise.detect.seen import what_is_seen
from gramrise.detect.settings import DetectSettings, shipped
from gramrise.detect.surroundings import all_happenings
from gramrise.detect.trace import trace_of
from gramrise.detect.treatments import chain_doses, classes, instant, low_of, treatments_frame
from gramrise.domain.batch import Question
from gramrise.domain.findings import Inputs
from gramrise.domain.frames import DOSES, EVENTS, FINGERS, LOWS, READINGS, SCREENED, TREATMENTS

# How far a changed instant reaches. Back: the usual step looks at a day's neighbours (2 days). From there, a low or
# treatment looks ahead this long beyond its end (high within 2 h; response 90 min after the last dose).
CHANGES_REACH_BACK: Final = timedelta(days=2)
LOOKS_AHEAD: Final = timedelta(hours=3)
# What detection reads before an instant: the usual step and earlier lows of readings; whether the log is kept (14 days)
# of doses; the longest look back at events (24 h, and those that last on are kept whatever their start).
READINGS_BEFORE: Final = timedelta(days=4)
LOG_BEFORE: Final = timedelta(days=15)


@dataclass(frozen=True, slots=True)
class Detected:
    """What was found in one person's inputs: LOWS, TREATMENTS, SCREENED, and what only a person can say."""

    lows: pl.DataFrame
    treatments: pl.DataFrame
    screened: pl.DataFrame
    questions: tuple[Question, ...] = ()


def detect(inputs: Inputs, now_utc: datetime, settings: DetectSettings | None = None) -> Detected:
    """Lows with their outcome, treatments with their class, and every treatment screened with all its reasons.

    inputs   one person's inputs; frames are checked here, in any row order
    now_utc  aware; only tells a low still going on from one whose trace broke off
    raises   ColumnsMissing for a frame that breaks its contract
    """
    settings = settings or shipped()
    lows, treatments, screened = _found(inputs, now_utc, settings)
    return Detected(lows, treatments, screened, questions_of(inputs.person, screened, inputs.doses, settings))


def detect_since(
    inputs: Inputs, from_utc: datetime, before: Detected, now_utc: datetime, settings: DetectSettings | None = None
) -> Detected:
    """The same as `detect(inputs, now_utc)`, recomputing only what inputs from `from_utc` on can have changed.

    inputs    the whole of a person's inputs as they are now
    from_utc  earliest instant of any reading, finger-stick, dose or event that was added, changed or taken away
    before    what was found before that change, with the same settings and the same facts about the person
    """
    settings = settings or shipped()
    redo_utc = _redo_from(before, from_utc)
    lows, treatments, screened = _found(_slice(inputs, before.lows, redo_utc), now_utc, settings)
    screened = _joined(before.screened, screened, "first_dose_utc", redo_utc)
    return Detected(
        lows=_joined(before.lows, lows, "start_utc", redo_utc),
        treatments=_joined(before.treatments, treatments, "first_dose_utc", redo_utc),
        screened=screened,
        questions=questions_of(inputs.person, screened, inputs.doses, settings),
    )


def reads_from(before: Detected, from_utc: datetime) -> datetime:
    """The instant from which `detect_since` reads readings, finger-sticks and events; what ended before may be missing.

    Doses are asked for whole all the same: questions look at every log.
    """
    return _begin(before.lows, _redo_from(before, from_utc))


def _found(
    inputs: Inputs, now_utc: datetime, settings: DetectSettings
) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    """LOWS, TREATMENTS and SCREENED of these inputs."""
    person = inputs.person
    watched = Watched(
        person=person,
        trace=trace_of(READINGS.check(inputs.readings), settings),
        doses=DOSES.check(inputs.doses),
        fingers=FINGERS.check(inputs.fingers),
        around=all_happenings(EVENTS.check(inputs.events), settings),
        now_us=int(now_utc.timestamp()) * 1_000_000,
        settings=settings,
    )
    trace, doses = watched.trace, watched.doses
    lows = low_events(trace, watched.now_us, settings.low_mg_dl, settings)
    facts = low_facts(watched, lows)
    chains = chain_doses(doses, settings)
    low = low_of(chains.first_us, lows, settings)
    seen = what_is_seen(trace, chains.first_us, settings)
    kinds = classes(low, seen.start_mg_dl, seen.change_mg_dl_per_min, settings)
    treatments = treatments_frame(person, doses, chains, kinds, low, lows)
    doubted = sensor_doubted(watched, chains, lows, facts)
    offered = Offered(person, doses, chains, low, facts.one_reading, doubted, seen)
    given = given_for_lows(doses, lows, settings)
    return (
        LOWS.check(lows_frame(watched, lows, facts, given)),
        TREATMENTS.check(treatments),
        SCREENED.check(screen(offered, treatments, trace, watched.around, settings)),
    )


def _redo_from(before: Detected, from_utc: datetime) -> datetime:
    """The instant from which lows and treatments may differ: no low or treatment before it looks at a changed input."""
    changed = from_utc - CHANGES_REACH_BACK
    lows, treatments = before.lows, before.treatments
    earliest = _earliest(lows["start_utc"], lows["end_utc"], changed, LOOKS_AHEAD)
    return _earliest(treatments["first_dose_utc"], treatments["last_dose_utc"], earliest, LOOKS_AHEAD)


def _earliest(starts: pl.Series, ends: pl.Series, at_utc: datetime, ahead: timedelta = timedelta(0)) -> datetime:
    """The first start of what reaches an instant, its end looking `ahead` (no end: open); else that instant.

    In numbers, not expressions: asked several times a night, of frames of a few hundred rows.
    """
    at_us = _us(at_utc)
    ended = ends.to_numpy()
    reaches = np.isnat(ended) | (ended.astype(np.int64) + ahead // timedelta(microseconds=1) >= at_us)
    first = starts.to_numpy().astype(np.int64)[reaches]
    return instant(min(int(first.min()), at_us)) if first.size else at_utc


def _us(at_utc: datetime) -> int:
    return (at_utc - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)


def _slice(inputs: Inputs, lows: pl.DataFrame, redo_utc: datetime) -> Inputs:
    """What detection reads for everything from an instant on. It begins outside any low."""
    begin = _begin(lows, redo_utc)
    log = redo_utc - LOG_BEFORE
    ends = pl.coalesce("until_utc", "at_utc")
    return Inputs(
        person=inputs.person,
        readings=inputs.readings.filter(pl.col("at_utc") >= begin),
        fingers=inputs.fingers.filter(pl.col("at_utc") >= begin),
        doses=inputs.doses.filter(pl.col("taken_at_utc") >= log),
        events=inputs.events.filter(ends >= begin),
    )


def _begin(lows: pl.DataFrame, redo_utc: datetime) -> datetime:
    begin = redo_utc - READINGS_BEFORE
    ended = lows.filter(lows["end_utc"].is_not_null())
    return _earliest(ended["start_utc"], ended["end_utc"], begin, -timedelta(microseconds=1))


def _joined(before: pl.DataFrame, after: pl.DataFrame, column: str, redo_utc: datetime) -> pl.DataFrame:
    """Rows of before up to an instant, of after from it on; both stand in order of time."""
    at_us = _us(redo_utc)
    kept = int(np.searchsorted(before[column].to_numpy().astype(np.int64), at_us))
    begun = int(np.searchsorted(after[column].to_numpy().astype(np.int64), at_us))
    return pl.concat([before[:kept], after[begun:]])
