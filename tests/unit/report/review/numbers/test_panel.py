"""The panel: danger first, then change beyond growth, then the rest; nobody is left out."""

from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.report_people import NOW
from support.review_people import drift_line, everyone

from gramrise.report.review.numbers.panel import panel_line, panel_of
from gramrise.report.review.settings import DEFAULT

CALM = {"severe_n": 0, "level_2_n": 0, "prolonged_n": 0, "unlogged_nights_n": 0, "unnoticed_n": 0}


def _line(person_id, probability=0.2, listed=False, **dangers):
    line = panel_line(everyone()["signed"], DEFAULT)
    told = line.dangers.model_copy(update=CALM | dangers)
    drift = (drift_line(probability_moved=probability, finding="moved" if listed else "undecided"),)
    return line.model_copy(update={"person_id": person_id, "dangers": told, "drift": drift})


def _order(*lines):
    panel = panel_of(lines, language="en", written_at_utc=NOW, settings=DEFAULT)
    return [line.person_id for line in panel.lines]


def test_danger_stands_before_a_number_that_moved_and_that_before_the_rest():
    assert _order(
        _line("steady"), _line("moved", 0.99, True), _line("night", unlogged_nights_n=1), _line("glucagon", severe_n=1)
    ) == ["glucagon", "night", "moved", "steady"]


@pytest.mark.parametrize(
    ("graver", "lesser"),
    [
        ({"severe_n": 1}, {"level_2_n": 9}),
        ({"level_2_n": 1}, {"prolonged_n": 9}),
        ({"prolonged_n": 1}, {"unnoticed_n": 9}),
        ({"unlogged_nights_n": 2}, {"prolonged_n": 1}),
    ],
)
def test_the_graver_danger_stands_first_however_many_lesser_ones_there_are(graver, lesser):
    assert _order(_line("a", **lesser), _line("b", **graver)) == ["b", "a"]


def test_of_equal_dangers_the_one_whose_number_moved_stands_first():
    assert _order(_line("a", level_2_n=1), _line("b", 0.97, True, level_2_n=1)) == ["b", "a"]


@given(st.lists(st.tuples(st.integers(0, 2), st.floats(0, 1), st.booleans()), min_size=2, max_size=12))
@settings(max_examples=30, deadline=None)
def test_everybody_has_one_line_and_no_calm_person_stands_before_a_dangerous_one(told):
    lines = [_line(f"p{at}", chance, listed, level_2_n=deep) for at, (deep, chance, listed) in enumerate(told)]
    panel = panel_of(lines, language="en", written_at_utc=NOW, settings=DEFAULT)
    assert sorted(line.person_id for line in panel.lines) == sorted(f"p{at}" for at in range(len(told)))
    dangerous = [line.dangers.any for line in panel.lines]
    assert dangerous == sorted(dangerous, reverse=True)


def test_as_many_are_listed_as_keep_one_in_ten_false_and_no_more():
    """By hand: the means of 0.02, 0.10 and 0.20 are 0.02, 0.06 and 0.107; the third would bring more than a tenth."""
    told = {"a": 0.98, "b": 0.90, "c": 0.80}
    lines = [_line(name, chance, True) for name, chance in told.items()]
    panel = panel_of(lines, language="en", written_at_utc=NOW, settings=DEFAULT)
    assert {line.person_id: line.moved for line in panel.lines} == {"a": True, "b": True, "c": False}
    assert panel.expected_false == pytest.approx(0.06)


def test_a_probable_change_that_the_rule_does_not_call_moved_is_not_listed():
    panel = panel_of([_line("a", 0.99)], language="en", written_at_utc=NOW, settings=DEFAULT)
    assert (panel.lines[0].moved, panel.expected_false) == (False, None)


def test_a_family_that_fell_silent_is_told_as_silent():
    review = everyone()["unsigned"]
    assert panel_line(review, DEFAULT).silent_days is None
    late = review.model_copy(update={"written_at_utc": review.last_reading_utc + timedelta(days=30)})
    assert panel_line(late, DEFAULT).silent_days == 30


def test_the_used_treatments_since_the_reference_are_counted():
    review = everyone()["unsigned"]
    assert panel_line(review, DEFAULT).pairings_n == sum(one.verdict == "used" for one in review.pairings) == 3
