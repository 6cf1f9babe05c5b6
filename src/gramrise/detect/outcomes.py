"""What became of each low: logged facts first, then what the sensor gives away, then the recovery."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from gramrise.detect.facts import LowFacts, Watched
from gramrise.detect.lows import Ending, LowEvents
from gramrise.detect.settings import DetectSettings
from gramrise.detect.trace import US_PER_MINUTE, Flags, Trace, instants
from gramrise.detect.treatments import instant, low_of
from gramrise.domain.frames import LOWS
from gramrise.domain.outcomes import EVIDENCE
from gramrise.domain.person import Person
from gramrise.domain.words import EventKind, Outcome


@dataclass(frozen=True, slots=True)
class GivenForLow:
    """Doses of one low, in order of time."""

    taken_us: list[int]
    grams: list[float | None]
    untimed: list[bool]


def given_for_lows(doses: pl.DataFrame, lows: LowEvents, settings: DetectSettings) -> list[GivenForLow]:
    """The doses of each low: taken from 30 minutes before its start to its end. A dose belongs to one low at most."""
    given = [GivenForLow([], [], []) for _ in range(len(lows))]
    taken_us = instants(doses["taken_at_utc"])
    whose = low_of(taken_us, lows, settings)
    rows = zip(whose.tolist(), taken_us.tolist(), doses["grams"], doses["remarks"], strict=True)
    for low, at_us, grams, remarks in rows:
        if low >= 0:
            given[low].taken_us.append(at_us)
            given[low].grams.append(grams)
            given[low].untimed.append(remarks is not None and "untimed" in remarks)
    return given


@dataclass(frozen=True, slots=True)
class Case:
    """One low and what decides its outcome."""

    ending: Ending
    timed: bool  # glucose is logged with its instant
    untimed: bool  # glucose is logged, never with an instant
    food: bool
    glucagon: bool
    complete: bool  # the family declared that every glucose is logged
    probability_dip: float
    dip_called: bool
    share_unlogged: float
    probability_unlogged: float
    finger_disagreed: bool
    finger_agreed: bool
    two_traces: bool
    sensor_new: bool
    one_reading: bool

    @property
    def nothing_logged(self) -> bool:
        return not (self.timed or self.untimed or self.food or self.glucagon)


def lows_frame(watched: Watched, lows: LowEvents, facts: LowFacts, given: list[GivenForLow]) -> pl.DataFrame:
    """LOWS, one row a low, with its outcome and the evidence for it."""
    if len(lows) == 0:
        return LOWS.empty()
    settings = watched.settings
    high = _above_after(watched.trace, lows, settings)
    rows = []
    for nth, case in enumerate(_cases(watched, lows, facts, given)):
        outcome, probability = outcome_of(case, settings)
        rows.append(
            _times(watched.trace, lows, facts, given[nth], nth, settings)
            | {
                "person_id": watched.person.person_id,
                "nadir_mg_dl": float(facts.nadir_mg_dl[nth]),
                "level": int(facts.level[nth]),
                "prolonged": bool(facts.prolonged[nth]),
                "one_reading": case.one_reading,
                "below_range": bool(facts.below_range[nth]),
                "outcome": str(outcome),
                "probability_treated": probability,
                "probability_dip": case.probability_dip,
                "above_180_within_2h": bool(high[nth]),
                "evidence": evidence_of(case, settings),
            }
        )
    return pl.DataFrame(rows, schema=LOWS.schema)


def _cases(watched: Watched, lows: LowEvents, facts: LowFacts, given: list[GivenForLow]) -> list[Case]:
    before_us = lows.start_us - int(watched.settings.food_before_low_minutes * US_PER_MINUTE)
    until_us = np.maximum(lows.end_us - 1, lows.start_us)
    food = watched.around[EventKind.FOOD].any_within(before_us, until_us)
    glucagon = watched.around[EventKind.GLUCAGON].any_within(before_us, until_us)
    return [
        Case(
            ending=Ending(lows.ending[nth]),
            timed=not all(given[nth].untimed),
            untimed=bool(given[nth].untimed) and all(given[nth].untimed),
            food=bool(food[nth]),
            glucagon=bool(glucagon[nth]),
            complete=_log_complete(watched.person, int(lows.start_us[nth])),
            probability_dip=float(facts.probability_dip[nth]),
            dip_called=bool(facts.dip_called[nth]),
            share_unlogged=float(facts.share_unlogged[nth]),
            probability_unlogged=float(facts.probability_unlogged[nth]),
            finger_disagreed=bool(facts.finger_disagreed[nth]),
            finger_agreed=bool(facts.finger_agreed[nth]),
            two_traces=bool(facts.two_traces[nth]),
            sensor_new=bool(facts.sensor_new[nth]),
            one_reading=bool(facts.one_reading[nth]),
        )
        for nth in range(len(lows))
    ]


def evidence_of(case: Case, settings: DetectSettings) -> list[str]:
    """Codes of domain.outcomes.EVIDENCE that hold, in the table's order."""
    nothing, unlogged = case.nothing_logged, case.probability_unlogged
    # A rise out of a dip is the sensor's, and of no telling.
    judged = nothing and not (case.complete or case.dip_called or case.two_traces) and case.ending is Ending.RETURNED
    holds = {
        "glucose_logged": case.timed,
        "glucose_untimed": case.untimed,
        "food_logged": case.food,
        "glucagon_logged": case.glucagon,
        "nothing_in_log": nothing,
        "log_complete": nothing and case.complete,
        "rose_like_treated": judged and unlogged >= settings.recovery_telling,
        "rose_like_untreated": judged and unlogged <= 1 - settings.recovery_telling,
        "looks_like_dip": case.dip_called,
        "finger_disagreed": case.finger_disagreed,
        "finger_agreed": case.finger_agreed,
        "sensor_new": case.sensor_new,
        "two_traces": case.two_traces,
        "one_reading": case.one_reading,
        "trace_broke_off": case.ending is Ending.GAP,
        "still_going": case.ending is Ending.OPEN,
    }
    return [code for code in EVIDENCE if holds[code]]


def outcome_of(case: Case, settings: DetectSettings) -> tuple[Outcome, float]:
    """Outcome of one low and the probability that glucose was given: the first line that holds decides."""
    logged = case.timed or case.untimed
    unlogged = 0.0 if case.complete else (1 - case.probability_dip) * case.probability_unlogged
    unseen = 0.0 if case.complete else case.share_unlogged
    beside_food = 0.0 if case.complete else settings.unlogged_share_with_food
    doubted = case.probability_dip >= settings.dip_likely or case.finger_disagreed or case.two_traces
    going_on = case.ending is Ending.OPEN
    lines = (
        (going_on, Outcome.OPEN, 1.0 if logged else unseen),
        (case.timed, Outcome.TREATED, 1.0),
        (case.untimed, Outcome.TREATED_UNTIMED, 1.0),
        (case.food or case.glucagon, Outcome.FOOD_COVERED, beside_food),
        (doubted, Outcome.SENSOR_DOUBT, unlogged),
        (case.ending is Ending.GAP, Outcome.OPEN, unseen),
        (case.complete, Outcome.EASED, 0.0),
        (True, Outcome.NOTHING_LOGGED, unlogged),
    )
    return next((outcome, probability) for holds, outcome, probability in lines if holds)


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
