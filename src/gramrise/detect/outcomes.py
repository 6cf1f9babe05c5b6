"""What became of each low: logged facts first, then what the sensor gives away, then the recovery."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from gramrise.detect.lows import Ending, LowEvents
from gramrise.detect.settings import DetectSettings
from gramrise.detect.surroundings import Happenings
from gramrise.detect.trace import US_PER_MINUTE, Flags, Instants, Numbers, Trace
from gramrise.detect.treatments import instant, low_of
from gramrise.domain.frames import LOWS
from gramrise.domain.person import Person
from gramrise.domain.words import EventKind, Outcome


@dataclass(frozen=True, slots=True)
class LowFacts:
    """What is known of each low, arrays over lows, before its outcome is decided."""

    nadir_mg_dl: Numbers
    nadir_row: Instants
    level: Instants
    prolonged: Flags
    one_reading: Flags
    below_range: Flags
    probability_dip: Numbers
    probability_unlogged: Numbers  # that carbohydrate was given though nothing is logged, from the recovery
    finger_disagreed: Flags
    finger_agreed: Flags
    two_traces: Flags
    sensor_new: Flags


@dataclass(frozen=True, slots=True)
class GivenForLow:
    """Doses of one low, in order of time."""

    taken_us: list[int]
    grams: list[float | None]
    untimed: list[bool]


def given_for_lows(doses: pl.DataFrame, lows: LowEvents, settings: DetectSettings) -> list[GivenForLow]:
    """The doses of each low: taken from 30 minutes before its start to its end. A dose belongs to one low at most."""
    given = [GivenForLow([], [], []) for _ in range(len(lows))]
    taken_us = doses["taken_at_utc"].cast(pl.Int64).to_numpy()
    whose = low_of(taken_us, lows, settings)
    rows = zip(whose.tolist(), taken_us.tolist(), doses["grams"], doses["remarks"], strict=True)
    for low, at_us, grams, remarks in rows:
        if low >= 0:
            given[low].taken_us.append(at_us)
            given[low].grams.append(grams)
            given[low].untimed.append(remarks is not None and "untimed" in remarks)
    return given


def lows_frame(
    person: Person,
    trace: Trace,
    lows: LowEvents,
    facts: LowFacts,
    given: list[GivenForLow],
    around: dict[EventKind, Happenings],
    settings: DetectSettings,
) -> pl.DataFrame:
    """LOWS, one row a low, with its outcome and the evidence for it."""
    if len(lows) == 0:
        return LOWS.empty()
    before_us = lows.start_us - int(settings.food_before_low_minutes * US_PER_MINUTE)
    until_us = np.maximum(lows.end_us - 1, lows.start_us)
    food = around[EventKind.FOOD].any_within(before_us, until_us)
    glucagon = around[EventKind.GLUCAGON].any_within(before_us, until_us)
    high = _above_after(trace, lows, settings)
    rows = []
    for nth in range(len(lows)):
        complete = _log_complete(person, int(lows.start_us[nth]))
        found = _judge(
            facts, nth, Ending(lows.ending[nth]), given[nth], bool(food[nth]), bool(glucagon[nth]), complete, settings
        )
        outcome, evidence, probability = found
        rows.append(
            _times(trace, lows, facts, given[nth], nth, settings)
            | {
                "person_id": person.person_id,
                "nadir_mg_dl": float(facts.nadir_mg_dl[nth]),
                "level": int(facts.level[nth]),
                "prolonged": bool(facts.prolonged[nth]),
                "one_reading": bool(facts.one_reading[nth]),
                "below_range": bool(facts.below_range[nth]),
                "outcome": str(outcome),
                "probability_treated": probability,
                "probability_dip": float(facts.probability_dip[nth]),
                "above_180_within_2h": bool(high[nth]),
                "evidence": evidence,
            }
        )
    return pl.DataFrame(rows, schema=LOWS.schema)


def _judge(
    facts: LowFacts,
    nth: int,
    ending: Ending,
    given: GivenForLow,
    food: bool,
    glucagon: bool,
    complete: bool,
    settings: DetectSettings,
) -> tuple[Outcome, list[str], float]:
    """Outcome, evidence codes and probability that glucose was given, of one low."""
    timed = any(not untimed for untimed in given.untimed)
    logged = bool(given.taken_us)
    dip = float(facts.probability_dip[nth])
    unlogged = float(facts.probability_unlogged[nth])
    doubted = dip >= settings.dip_called or bool(facts.finger_disagreed[nth]) or bool(facts.two_traces[nth])
    nothing = not (logged or food or glucagon)
    holds = {
        "glucose_logged": timed,
        "glucose_untimed": logged and not timed,
        "food_logged": food,
        "glucagon_logged": glucagon,
        "nothing_in_log": nothing,
        "log_complete": nothing and complete,
        "rose_like_treated": nothing and unlogged >= settings.recovery_telling,
        "rose_like_untreated": nothing and unlogged <= 1 - settings.recovery_telling,
        "looks_like_dip": dip >= settings.dip_called,
        "finger_disagreed": bool(facts.finger_disagreed[nth]),
        "finger_agreed": bool(facts.finger_agreed[nth]),
        "sensor_new": bool(facts.sensor_new[nth]),
        "two_traces": bool(facts.two_traces[nth]),
        "one_reading": bool(facts.one_reading[nth]),
        "trace_broke_off": ending is Ending.GAP,
        "still_going": ending is Ending.OPEN,
    }
    evidence = [code for code, true in holds.items() if true]
    whole = 0.0 if complete else 1.0  # nothing goes unlogged where the log is complete
    tried = (
        (logged and ending is not Ending.OPEN, Outcome.TREATED if timed else Outcome.TREATED_UNTIMED, 1.0),
        (ending is Ending.OPEN, Outcome.OPEN, 1.0 if logged else whole * settings.unlogged_share),
        (food or glucagon, Outcome.FOOD_COVERED, whole * settings.unlogged_share_with_food),
        (doubted, Outcome.SENSOR_DOUBT, whole * (1 - dip) * unlogged),
        (ending is Ending.GAP, Outcome.OPEN, whole * settings.unlogged_share),
        (complete, Outcome.EASED, 0.0),
        (True, Outcome.NOTHING_LOGGED, unlogged),
    )
    outcome, probability = next((outcome, probability) for holds_true, outcome, probability in tried if holds_true)
    return outcome, evidence, probability


def _times(
    trace: Trace, lows: LowEvents, facts: LowFacts, given: GivenForLow, nth: int, settings: DetectSettings
) -> dict[str, object]:
    """The columns about when and how much, of one low."""
    ending, start_us, end_us = Ending(lows.ending[nth]), int(lows.start_us[nth]), int(lows.end_us[nth])
    nadir_us = int(trace.at_us[facts.nadir_row[nth]])
    first_us = given.taken_us[0] if given.taken_us else None
    since_us = nadir_us if first_us is None else first_us
    second_us = int(settings.second_amount_minutes * US_PER_MINUTE)
    return {
        "start_utc": instant(start_us),
        "end_utc": None if ending is Ending.OPEN else instant(end_us),
        "nadir_at_utc": instant(nadir_us),
        "ended_by_gap": ending is Ending.GAP,
        "grams": None if None in given.grams else float(sum(g for g in given.grams if g is not None)),
        "first_dose_utc": None if first_us is None else instant(first_us),
        "minutes_to_glucose": None if first_us is None else (first_us - start_us) / US_PER_MINUTE,
        "minutes_to_70": (end_us - since_us) / US_PER_MINUTE if ending is Ending.RETURNED else None,
        "second_amount": first_us is not None and any(at - first_us >= second_us for at in given.taken_us),
    }


def _above_after(trace: Trace, lows: LowEvents, settings: DetectSettings) -> Flags:
    """Whether a reading above 180 follows within two hours of each low's end; never for a low still open."""
    high = np.concatenate([[0], np.cumsum(trace.mg_dl > settings.high_mg_dl)])
    until = lows.end_us + int(settings.high_within_minutes * US_PER_MINUTE) + 1
    seen = high[trace.first_at(until)] - high[trace.first_at(lows.end_us)]
    return np.asarray((seen > 0) & (lows.ending != Ending.OPEN), dtype=np.bool_)


def _log_complete(person: Person, at_us: int) -> bool:
    """Whether the family declared the log complete on the local day of an instant."""
    return bool(person.log_complete_from.on(instant(at_us).astimezone(person.zone_now()).date()))
