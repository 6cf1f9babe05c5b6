"""What holds whatever a log looks like: nothing is dropped, everything has its reason, and a part equals the whole."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gramrise.detect import Detected, detect, detect_in_chunks
from gramrise.domain.findings import Inputs
from gramrise.domain.frames import DOSES, EVENTS, FINGERS, LOWS, READINGS, SCREENED, TREATMENTS
from gramrise.domain.memo import Memo, ReadingsByDay
from gramrise.domain.outcomes import EVIDENCE, OUTCOMES
from gramrise.domain.person import Dated, Person
from gramrise.domain.reasons import REASONS, Effect

START = datetime(2026, 3, 2, tzinfo=UTC)
DAYS = 24
KINDS = ["insulin", "food", "food", "activity", "illness", "glucagon", "vomited", "sensor_start", "note"]


@st.composite
def logs(draw: st.DrawFn) -> Inputs:
    """Three weeks of a wandering level, mostly by a 5-minute sensor, with doses, events and finger-sticks strewn in."""
    minutes = st.integers(0, DAYS * 1440 - 1)
    person = Person(
        "P1",
        date(2016, 1, 1),
        Dated(((date.min, ZoneInfo("Europe/Berlin")),)),
        weights_kg=Dated(((date(2026, 1, 1), 32.0),)) if draw(st.booleans()) else Dated(),
        log_complete_from=Dated(((date(2026, 3, 20), True),)) if draw(st.booleans()) else Dated(),
    )
    dose_minutes = draw(st.lists(minutes, max_size=25))
    return Inputs(
        person,
        readings=_readings(draw(st.integers(0, 2**32 - 1)), draw(st.sampled_from([5, 5, 15]))),
        fingers=_fingers(draw(st.dictionaries(minutes, st.sampled_from([55, 65, 90, 180]), max_size=5))),
        doses=_doses([(at, draw(st.sampled_from([4.0, 8.0, 12.5, None]))) for at in sorted(set(dose_minutes))]),
        events=_events(draw(st.dictionaries(minutes, st.sampled_from(KINDS), max_size=20))),
    )


def _readings(seed: int, step: int) -> pl.DataFrame:
    rng = np.random.default_rng(seed)
    at = np.arange(0, DAYS * 1440, step)
    level = np.empty(len(at))
    value, slope = 110.0, 0.0
    for n in range(len(at)):
        slope = 0.9 * slope + 0.35 * step**0.5 * rng.standard_normal() + 0.004 * step * (105 - value) / 10
        value = float(np.clip(value + slope, 38, 300))
        level[n] = round(value)
    kept = rng.random(len(at)) > 0.03
    for _ in range(6):
        hole = int(rng.integers(len(at)))
        kept[hole : hole + int(rng.integers(60))] = False
    frame = pl.DataFrame(
        {
            "person_id": "P1",
            "at_utc": [START + timedelta(minutes=int(m)) for m in at[kept]],
            "glucose_mg_dl": np.maximum(level[kept], 40.0),
            "range": np.where(level[kept] < 40, "below", "in"),
            "offset_minutes": 60,
        }
    )
    return READINGS.check(frame.with_columns(pl.col("offset_minutes").cast(pl.Int32)))


def _doses(given_at: list[tuple[int, float | None]]) -> pl.DataFrame:
    rows = [
        {
            "person_id": "P1",
            "taken_at_utc": START + timedelta(minutes=at),
            "source": "tablets",
            "ordinal": 1,
            "form": "tablet",
            "amount": grams,
            "amount_unit": "g",
            "grams": grams,
            "may_be_weaker": False,
            "remarks": ["maybe_twice"] if at % 17 == 0 else [],
            "origin": "file",
            "noticed": "",
        }
        for at, grams in given_at
    ]
    return pl.DataFrame(rows, schema=DOSES.schema)


def _events(happened: dict[int, str]) -> pl.DataFrame:
    rows = [
        {
            "person_id": "P1",
            "at_utc": START + timedelta(minutes=at),
            "until_utc": START + timedelta(minutes=at + 4000) if kind == "illness" and at % 2 else None,
            "kind": kind,
            "amount": float(at % 30) if kind in {"insulin", "food"} else None,
            "text": "",
        }
        for at, kind in happened.items()
    ]
    return EVENTS.check(pl.DataFrame(rows, schema=EVENTS.schema))


def _fingers(sticks: dict[int, int]) -> pl.DataFrame:
    rows = [
        {
            "person_id": "P1",
            "at_utc": START + timedelta(minutes=at),
            "glucose_mg_dl": float(value),
            "range": "in",
        }
        for at, value in sticks.items()
    ]
    return FINGERS.check(pl.DataFrame(rows, schema=FINGERS.schema))


FEW = settings(
    max_examples=20,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
NOW = START + timedelta(days=DAYS, minutes=3)


@FEW
@given(logs())
def test_every_dose_offered_is_in_exactly_one_treatment_used_or_set_aside_with_a_reason(inputs):
    found = detect(inputs, NOW)
    assert found.treatments["doses_n"].sum() == inputs.doses.height
    assert found.screened.select(list(TREATMENTS.schema)).equals(found.treatments)
    firsts, lasts = (found.treatments[name].to_list() for name in ("first_dose_utc", "last_dose_utc"))
    for at in inputs.doses["taken_at_utc"]:
        assert sum(first <= at <= last for first, last in zip(firsts, lasts, strict=True)) == 1
    for row in found.screened.iter_rows(named=True):
        effects = {REASONS[code].effect for code in row["reasons"]}
        assert row["verdict"] in {"used", "set_aside"}
        assert (row["verdict"] == "set_aside") <= bool(effects & {Effect.SET_ASIDE, Effect.CUT})
        assert (Effect.SET_ASIDE in effects) <= (row["verdict"] == "set_aside")
        assert row["window_from_utc"] <= row["first_dose_utc"] <= row["window_to_utc"]


@FEW
@given(logs())
def test_what_is_found_keeps_its_contract_and_says_only_known_words(inputs):
    found = detect(inputs, NOW)
    assert LOWS.check(found.lows).equals(found.lows)
    assert SCREENED.check(found.screened).equals(found.screened)
    assert set(found.lows["outcome"]) <= set(OUTCOMES)
    assert set(found.lows["evidence"].explode(empty_as_null=False)) <= set(EVIDENCE)
    for name in ("probability_treated", "probability_dip"):
        assert found.lows[name].is_between(0, 1).all()
    # Every gram counted for a low is a gram that was logged, and once.
    known = inputs.doses["grams"].sum()
    assert (found.lows["grams"].sum() or 0) <= (known or 0) + 1e-9


@FEW
@given(logs(), st.integers(0, 1000))
def test_nothing_depends_on_the_order_of_rows(inputs, seed):
    mixed = Inputs(
        inputs.person,
        readings=_shuffled(inputs.readings, seed),
        fingers=_shuffled(inputs.fingers, seed),
        doses=_shuffled(inputs.doses, seed),
        events=_shuffled(inputs.events, seed),
    )
    assert same(detect(mixed, NOW), detect(inputs, NOW))


def _shuffled(frame: pl.DataFrame, seed: int) -> pl.DataFrame:
    return frame.sample(fraction=1.0, shuffle=True, seed=seed)


def in_chunks(inputs: Inputs, memo: Memo, now: datetime = NOW) -> Detected:
    logged = replace(inputs, readings=READINGS.empty())
    return detect_in_chunks(logged, ReadingsByDay.of(inputs.readings), now, memo)


@FEW
@given(logs(), st.integers(0, DAYS * 1440 - 1), st.integers(0, 3))
def test_detection_in_chunks_with_whatever_was_remembered_equals_detection_of_the_whole(inputs, minute, days_later):
    # As it was, the log lacked everything from an instant on and held a dose and an event since taken away.
    changed = START + timedelta(minutes=minute)
    was = Inputs(
        inputs.person,
        readings=inputs.readings.filter(pl.col("at_utc") < changed),
        fingers=inputs.fingers.filter(pl.col("at_utc") < changed),
        doses=pl.concat([inputs.doses.filter(pl.col("taken_at_utc") < changed), _doses([(minute, 5.0)])]),
        events=pl.concat([inputs.events.filter(pl.col("at_utc") < changed), _events({minute: "food"})]),
    )
    earlier = Memo()
    then = changed + timedelta(days=days_later)
    assert same(in_chunks(was, earlier, then), detect(was, then))
    assert same(in_chunks(inputs, Memo(earlier.current.values())), detect(inputs, NOW))


@FEW
@given(logs(), st.integers(60, 72), st.integers(1, 60))
def test_a_low_or_a_chain_of_doses_of_many_days_is_found_whole_in_chunks(inputs, level, minutes):
    # Across the border of two chunks: no reading says that a low has ended, no dose is an hour from the next.
    begin = START + timedelta(days=3)
    flat = inputs.readings.with_columns(
        glucose_mg_dl=pl.when(pl.col("at_utc") < begin).then("glucose_mg_dl").otherwise(pl.lit(float(level)))
    )
    chained = _doses([(at, 1.0) for at in range(4 * 1440, 18 * 1440, min(minutes + 40, 59))])
    changed = replace(inputs, readings=flat, doses=chained)
    assert same(in_chunks(changed, Memo()), detect(changed, NOW))


def same(one: Detected, other: Detected) -> bool:
    return (
        one.lows.equals(other.lows)
        and one.treatments.equals(other.treatments)
        and one.screened.equals(other.screened)
        and one.questions == other.questions
    )
