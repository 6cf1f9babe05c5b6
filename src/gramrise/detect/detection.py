"""One person's inputs to lows, treatments and screened treatments, all at once."""

from dataclasses import dataclass
from datetime import datetime

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
from gramrise.detect.treatments import chain_doses, classes, low_of, treatments_frame
from gramrise.domain.batch import Question
from gramrise.domain.findings import Inputs
from gramrise.domain.frames import DOSES, EVENTS, FINGERS, LOWS, READINGS, SCREENED, TREATMENTS


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
    lows, treatments, screened = found_in(watched_of(inputs, now_utc, settings))
    return Detected(lows, treatments, screened, questions_of(inputs.person, screened, inputs.doses, settings))


def watched_of(inputs: Inputs, now_utc: datetime, settings: DetectSettings) -> Watched:
    """The inputs made ready; each frame is checked here."""
    return Watched(
        person=inputs.person,
        trace=trace_of(READINGS.check(inputs.readings), settings),
        doses=DOSES.check(inputs.doses),
        fingers=FINGERS.check(inputs.fingers),
        around=all_happenings(EVENTS.check(inputs.events), settings),
        now_us=int(now_utc.timestamp()) * 1_000_000,
        settings=settings,
    )


def found_in(watched: Watched) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    """LOWS, TREATMENTS and SCREENED of what was watched."""
    person, settings = watched.person, watched.settings
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
