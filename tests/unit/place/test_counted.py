"""A tin against log and trace: what is gone, where it may have been taken, and what is asked."""

from datetime import timedelta

import pytest
from support.place_people import MORNING, child, day_with_turns, inputs

from gramrise.domain.counts import ContainerCount
from gramrise.domain.frames import FACTORS
from gramrise.domain.problems import WrongUse
from gramrise.place import count_question, place_count, place_settings

RULES = place_settings()
FACTORS_NONE = FACTORS.empty()
SHARP, SOFT = (180, 62, 130), (420, 68, 88)  # a turn as after glucose, and one as without


def tin(filled=20, left=15, source="candy"):
    return ContainerCount("mia", "school tin", source, MORNING, MORNING + timedelta(hours=12), filled, left)


def placed(count=None, doses=(), food=(), turns=(SHARP, SOFT)):
    return place_count(count or tin(), inputs(day_with_turns(*turns), doses, food), FACTORS_NONE, RULES)


def test_counted_minus_logged_is_gone_and_not_logged():
    found = placed(tin(20, 13), doses=[(60, 3.0)])
    assert (found.pieces_logged, found.pieces_untimed, found.grams_untimed) == (3.0, 4, 4.0)


def test_pieces_go_to_the_sharp_turn_rather_than_to_the_soft_one():
    laid = placed().laid
    assert laid is not None
    assert laid.layings[0].pieces == (5, 0)
    assert laid.layings[0].probability > 0.5
    assert laid.expected_pieces[0] > 10 * laid.expected_pieces[1]


def test_a_turn_that_logged_glucose_explains_is_no_candidate():
    found = placed(tin(20, 10), doses=[(175, 5.0)])
    assert [each.lowest_at_utc for each in found.recoveries] == [MORNING + timedelta(minutes=420)]


def test_food_near_a_turn_leaves_it_a_candidate_that_says_less():
    bare, fed = placed(), placed(food=[185])
    assert [each.food_near for each in fed.recoveries] == [True, False]
    assert fed.laid is not None
    assert bare.laid is not None
    assert fed.laid.expected_pieces[0] < bare.laid.expected_pieces[0]


def test_not_this_child_is_always_one_of_the_layings():
    laid = placed().laid
    assert laid is not None
    assert (0, 0) in [way.pieces for way in laid.layings]


def test_every_laying_keeps_the_total_of_the_interval():
    laid = placed(tin(20, 13)).laid
    assert laid is not None
    totals = {sum(way.pieces) + way.elsewhere for way in laid.layings}
    assert totals == {7}
    assert sum(way.probability for way in laid.layings) <= 1 + 1e-9


def test_where_nothing_is_gone_unlogged_nothing_is_laid_or_asked():
    found = placed(tin(20, 15), doses=[(175, 5.0)])
    assert found.laid is None
    assert count_question(found, child()) is None


def test_a_count_that_contradicts_the_log_is_a_question_with_both_readings():
    found = placed(tin(20, 18), doses=[(175, 5.0)])
    assert found.contradicts_log
    assert found.pieces_untimed == 0
    asked = count_question(found, child())
    assert asked is not None
    assert asked.answers == ("count_right", "refilled", "miscounted")
    assert asked.about["words"]["refilled"] == "the log is right, and 3 more were put in meanwhile; 18 are left"
    assert asked.about["words"]["miscounted"] == "the log is right, and it was counted wrongly: 15 are left"


def test_the_question_offers_places_others_and_nobody_knows_and_accuses_nobody():
    asked = count_question(placed(), child())
    assert asked is not None
    assert asked.answers[0] == "taken:5@2026-03-02T09:57:00+00:00"
    assert asked.answers[-2:] == ("not_this_child", "unknown")
    told = " ".join([asked.sentence, *asked.about["words"].values()]).lower()
    assert "5 pieces near mon 09:57" in told
    assert "fine not to" in told
    accusing = {"eaten", "stole", "took", "secret", "hid", "lied", "missing", "without permission", "failed", "forgot"}
    assert {word for word in accusing if word in told} == set()


def test_a_source_not_counted_in_pieces_is_refused_and_the_known_ones_named():
    with pytest.raises(WrongUse, match="one of: candy"):
        placed(tin(source="juice"))


def test_an_impossible_count_is_refused():
    with pytest.raises(WrongUse, match="refilled"):
        tin(10, 12)
    with pytest.raises(WrongUse, match="below zero"):
        tin(10, -1)
    with pytest.raises(WrongUse, match="ends after it begins"):
        ContainerCount("mia", "tin", "candy", MORNING, MORNING, 3, 1)


def test_the_same_day_gives_the_same_layings_whatever_the_order_of_its_doses():
    one = placed(tin(20, 10), doses=[(60, 1.0), (300, 2.0)])
    two = placed(tin(20, 10), doses=[(300, 2.0), (60, 1.0)])
    assert one == two
