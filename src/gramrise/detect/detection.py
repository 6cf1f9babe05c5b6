"""One person's inputs to lows, treatments and screened treatments."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import polars as pl

from gramrise.detect.dips import dip_probability
from gramrise.detect.fingers import finger_verdicts
from gramrise.detect.lows import LowEvents, holds_one_of, low_events, lowest
from gramrise.detect.outcomes import LowFacts, given_for_lows, lows_frame
from gramrise.detect.recoveries import probability_unlogged, recovery_rise
from gramrise.detect.screening import Offered, screen
from gramrise.detect.seen import what_is_seen
from gramrise.detect.settings import DetectSettings, shipped
from gramrise.detect.surroundings import Happenings, all_happenings
from gramrise.detect.trace import US_PER_MINUTE, Flags, Instants, Trace, trace_of
from gramrise.detect.treatments import Chains, chain_doses, classes, low_of, treatments_frame
from gramrise.domain.batch import Question
from gramrise.domain.findings import Inputs
from gramrise.domain.frames import DOSES, EVENTS, FINGERS, LOWS, READINGS, SCREENED, TREATMENTS
from gramrise.domain.person import Person
from gramrise.domain.words import EventKind


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
    person = inputs.person
    trace = trace_of(READINGS.check(inputs.readings), settings)
    doses, fingers = DOSES.check(inputs.doses), FINGERS.check(inputs.fingers)
    around = all_happenings(EVENTS.check(inputs.events), settings)
    now_us = int(now_utc.timestamp()) * 1_000_000
    lows = low_events(trace, now_us, settings.low_mg_dl, settings)
    facts = low_facts(person, trace, lows, now_us, fingers, around, settings)
    chains = chain_doses(doses, settings)
    low = low_of(chains.first_us, lows, settings)
    seen = what_is_seen(trace, chains.first_us, settings)
    kinds = classes(low, seen.start_mg_dl, seen.change_mg_dl_per_min, settings)
    treatments = treatments_frame(person, doses, chains, kinds, low, lows)
    doubted = sensor_doubted(trace, chains, lows, facts, fingers, settings)
    offered = Offered(person, doses, chains, low, lows, facts.one_reading, doubted, seen)
    given = given_for_lows(doses, lows, settings)
    return Detected(
        lows=LOWS.check(lows_frame(person, trace, lows, facts, given, around, settings)),
        treatments=TREATMENTS.check(treatments),
        screened=SCREENED.check(screen(offered, treatments, trace, around, settings)),
    )


def low_facts(
    person: Person,
    trace: Trace,
    lows: LowEvents,
    now_us: int,
    fingers: pl.DataFrame,
    around: dict[EventKind, Happenings],
    settings: DetectSettings,
) -> LowFacts:
    """Everything known of each low before its outcome is decided."""
    nadir, row = lowest(trace, lows)
    deep = low_events(trace, now_us, settings.level_2_mg_dl, settings)
    disagreed, agreed = finger_verdicts(fingers, trace, lows.start_us, lows.end_us, settings)
    new_us = lows.start_us - int(settings.sensor_new_hours * 60 * US_PER_MINUTE)
    return LowFacts(
        nadir_mg_dl=nadir,
        nadir_row=row,
        level=1 + holds_one_of(lows, deep).astype(np.int64),
        prolonged=_prolonged(trace, lows, now_us, settings),
        one_reading=_count(trace.mg_dl < settings.low_mg_dl, lows) == 1,
        below_range=_count(trace.below_range, lows) > 0,
        probability_dip=dip_probability(person, trace, lows, settings),
        probability_unlogged=probability_unlogged(recovery_rise(trace, lows, row, settings), settings),
        finger_disagreed=disagreed,
        finger_agreed=agreed,
        two_traces=np.zeros(len(lows), dtype=np.bool_),
        sensor_new=around[EventKind.SENSOR_START].any_within(new_us, lows.start_us),
    )


def _prolonged(trace: Trace, lows: LowEvents, now_us: int, settings: DetectSettings) -> Flags:
    """Which lows hold an event below `prolonged_mg_dl` of at least `prolonged_minutes`."""
    events = low_events(trace, now_us, settings.prolonged_mg_dl, settings)
    long = events.end_us - events.start_us >= int(settings.prolonged_minutes * US_PER_MINUTE)
    kept = LowEvents(
        *(part[long] for part in (events.first, events.past, events.start_us, events.end_us, events.ending))
    )
    return holds_one_of(lows, kept)


def _count(flags: Flags, lows: LowEvents) -> Instants:
    """Flagged readings in each low."""
    total = np.concatenate([[0], np.cumsum(flags)])
    return np.asarray(total[lows.past] - total[lows.first], dtype=np.int64)


def sensor_doubted(
    trace: Trace, chains: Chains, lows: LowEvents, facts: LowFacts, fingers: pl.DataFrame, settings: DetectSettings
) -> Flags:
    """Treatments whose readings are not trusted: beside a likely dip, mixed traces or a finger that disagreed."""
    before = chains.first_us - int(settings.before_low_minutes * US_PER_MINUTE)
    after = chains.last_us + int(settings.response_minutes * US_PER_MINUTE)
    disagreed, _ = finger_verdicts(fingers, trace, before, after, settings)
    doubtful = (facts.probability_dip >= settings.dip_called) | facts.two_traces
    span = Happenings(lows.start_us[doubtful], lows.end_us[doubtful], np.empty(0))
    return np.asarray(disagreed | span.any_within(before, after), dtype=np.bool_)
