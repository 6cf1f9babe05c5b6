"""Everything known of each low before its outcome is decided."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from gramrise.detect.dips import dips_of
from gramrise.detect.doubled import doubled_readings, share_flagged
from gramrise.detect.fingers import finger_verdicts
from gramrise.detect.lows import LowEvents, holds_one_of, low_events, lowest
from gramrise.detect.recoveries import probability_unlogged, recoveries_of, unlogged_share
from gramrise.detect.settings import DetectSettings
from gramrise.detect.surroundings import Happenings
from gramrise.detect.trace import US_PER_MINUTE, Flags, Instants, Numbers, Trace
from gramrise.detect.treatments import Chains
from gramrise.domain.person import Person
from gramrise.domain.words import EventKind


@dataclass(frozen=True, slots=True)
class Watched:
    """One person's inputs made ready: the trace as arrays, doses and finger-sticks in order, events by kind."""

    person: Person
    trace: Trace
    doses: pl.DataFrame
    fingers: pl.DataFrame
    around: dict[EventKind, Happenings]
    now_us: int
    settings: DetectSettings


@dataclass(frozen=True, slots=True)
class LowFacts:
    """Arrays over lows."""

    nadir_mg_dl: Numbers
    nadir_row: Instants
    level: Instants
    prolonged: Flags
    one_reading: Flags
    below_range: Flags
    probability_dip: Numbers
    dip_called: Flags
    share_unlogged: Numbers  # that glucose was given though nothing is logged, before the recovery speaks
    probability_unlogged: Numbers  # the same, after
    finger_disagreed: Flags
    finger_agreed: Flags
    two_traces: Flags
    sensor_new: Flags


def low_facts(watched: Watched, lows: LowEvents) -> LowFacts:
    """What the trace, the finger-sticks and the log tell of each low."""
    trace, settings = watched.trace, watched.settings
    nadir, row = lowest(trace, lows)
    deep = low_events(trace, watched.now_us, settings.level_2_mg_dl, settings)
    disagreed, agreed = finger_verdicts(watched.fingers, trace, lows.start_us, lows.end_us, settings)
    new_us = lows.start_us - int(settings.sensor_new_hours * 60 * US_PER_MINUTE)
    dip, called = dips_of(watched.person, trace, lows, settings)
    share = unlogged_share(lows, watched.doses, settings)
    return LowFacts(
        nadir_mg_dl=nadir,
        nadir_row=row,
        level=1 + holds_one_of(lows, deep).astype(np.int64),
        prolonged=_prolonged(watched, lows),
        one_reading=_count(trace.mg_dl < settings.low_mg_dl, lows) == 1,
        below_range=_count(trace.below_range, lows) > 0,
        probability_dip=dip,
        dip_called=called,
        share_unlogged=share,
        probability_unlogged=probability_unlogged(recoveries_of(trace, lows, row, settings), share, settings),
        finger_disagreed=disagreed,
        finger_agreed=agreed,
        two_traces=share_flagged(doubled_readings(trace, settings), trace, lows.start_us, lows.end_us),
        sensor_new=watched.around[EventKind.SENSOR_START].any_within(new_us, lows.start_us),
    )


def _prolonged(watched: Watched, lows: LowEvents) -> Flags:
    """Which lows hold an event below `prolonged_mg_dl` of at least `prolonged_minutes`."""
    settings = watched.settings
    events = low_events(watched.trace, watched.now_us, settings.prolonged_mg_dl, settings)
    long = events.end_us - events.start_us >= int(settings.prolonged_minutes * US_PER_MINUTE)
    parts = (events.first, events.past, events.start_us, events.end_us, events.ending)
    return holds_one_of(lows, LowEvents(*(part[long] for part in parts)))


def _count(flags: Flags, lows: LowEvents) -> Instants:
    """Flagged readings in each low."""
    total = np.concatenate([[0], np.cumsum(flags)])
    return np.asarray(total[lows.past] - total[lows.first], dtype=np.int64)


def sensor_doubted(watched: Watched, chains: Chains, lows: LowEvents, facts: LowFacts) -> Flags:
    """Treatments whose readings are not trusted: beside a likely dip, mixed traces or a finger that disagreed."""
    trace, settings = watched.trace, watched.settings
    before = chains.first_us - int(settings.before_low_minutes * US_PER_MINUTE)
    after = chains.last_us + int(settings.response_minutes * US_PER_MINUTE)
    disagreed, _ = finger_verdicts(watched.fingers, trace, before, after, settings)
    dip = facts.dip_called
    dips = Happenings(lows.start_us[dip], lows.end_us[dip], np.empty(0))
    mixed = share_flagged(doubled_readings(trace, settings), trace, before, after)
    return np.asarray(disagreed | mixed | dips.any_within(before, after), dtype=np.bool_)
