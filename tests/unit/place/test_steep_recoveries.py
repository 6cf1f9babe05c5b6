"""Lows of a silent log: steep recoveries get a high probability, are asked about a few at a time, and teach nothing."""

from dataclasses import replace
from datetime import timedelta

import polars as pl
from support.place_people import MORNING, child, day_with_turns, inputs

from gramrise.domain.frames import LOWS
from gramrise.place import looks_treated, own_turns, place_settings, steep_questions
from gramrise.place.steep_recoveries import own_untreated_turn

RULES = place_settings()
STEEP, GENTLE = (180, 60, 140), (420, 60, 75)


def lows(*minutes, probability=0.5, outcome="nothing_logged"):
    rows = [
        {
            **dict.fromkeys(LOWS.schema),
            "person_id": "mia",
            "start_utc": MORNING + timedelta(minutes=at - 20),
            "end_utc": MORNING + timedelta(minutes=at + 20),
            "nadir_mg_dl": 60.0,
            "nadir_at_utc": MORNING + timedelta(minutes=at),
            "outcome": outcome,
            "probability_treated": probability,
        }
        for at in minutes
    ]
    return pl.DataFrame(rows, schema=LOWS.schema)


def judged(found, doses=(), rules=RULES):
    who = inputs(day_with_turns(STEEP, GENTLE), doses)
    return looks_treated(who, found, own_turns(who, rules), rules)


def test_a_steep_recovery_is_likelier_treated_than_a_gentle_one():
    steep, gentle = judged(lows(180, 420))
    assert steep.probability > 0.7
    assert gentle.probability < 0.3


def test_the_detector_speaks_too():
    doubted, believed = (judged(lows(180, probability=p))[0].probability for p in (0.1, 0.9))
    assert believed > doubted + 0.1


def test_nothing_is_ever_certain():
    (surest,) = judged(lows(180, probability=1.0), rules=RULES.model_copy(update={"steep_own": 50.0}))
    assert surest.probability == 0.98


def test_where_glucose_is_logged_within_days_the_log_is_not_silent():
    assert judged(lows(180), doses=[(600, 3.0)]) == []


def test_an_answer_to_such_a_question_is_no_log_that_is_kept():
    who = inputs(day_with_turns(STEEP, GENTLE), [(600, 3.0)])
    answered = replace(who, doses=who.doses.with_columns(origin=pl.lit("answer")))
    assert len(looks_treated(answered, lows(180), own_turns(answered, RULES), RULES)) == 1


def test_only_lows_with_nothing_logged_are_judged():
    assert judged(lows(180, outcome="food_covered")) == []


def test_the_latest_steep_ones_are_asked_about_and_no_wording_accuses():
    asked_from = RULES.model_copy(update={"steep_asked_from": 0.7, "steep_asked_most": 2})
    (steep,) = judged(lows(180))
    many = [replace(steep, start_utc=steep.start_utc + timedelta(days=n)) for n in range(4)]
    asked = steep_questions(many, child(), asked_from)
    assert [each.key for each in asked] == [each.start_utc.isoformat() for each in many[2:]]
    assert asked[0].answers == ("glucose", "food", "nothing", "unknown")
    assert "Mon 02 Mar, 10:00" in asked[0].sentence
    assert "fine not to know" in asked[0].sentence
    assert steep_questions(judged(lows(420)), child(), asked_from) == []


def test_a_persons_own_turns_set_what_is_steep_for_them():
    def own(after):
        turned = [(60 * nth + 100, 90, after) for nth in range(0, 100, 2)]
        return own_untreated_turn(own_turns(inputs(day_with_turns(*turned, hours=110)), RULES), RULES)

    gentle, sharp = own(96), own(130)
    assert RULES.steep_own_least_mg_dl <= gentle < RULES.rise_without_mg_dl < sharp <= RULES.steep_own_most_mg_dl
    nobody = own_untreated_turn(own_turns(inputs(day_with_turns(hours=1)), RULES), RULES)
    assert nobody == RULES.rise_without_mg_dl
