"""A weighing that is asked about, typed or of a file, does not count until the family has said what it is."""

from datetime import date, timedelta

import polars as pl
import pytest
from support.store_logs import NOW, batch, child

from gramrise.domain.batch import Question
from gramrise.domain.frames import WEIGHTS

KNOWN, DAY = date(2026, 1, 10), date(2026, 2, 1)


def question(kg: float, on: date = DAY) -> Question:
    about = {"on": on.isoformat(), "kg": kg, "kg_if_pounds": kg * 0.45359237}
    return Question("mia", "weight_jump", f"{on} {kg:g}", "kg?", ("pounds", "kilograms", "leave_out"), about)


def weighed(kg: float, on: date = DAY, content_hash: str = "w1", *questions: Question):
    frame = pl.DataFrame([("mia", on, kg)], schema=WEIGHTS.schema, orient="row")
    return batch(content_hash, weights=frame, questions=questions)


def counted(store):
    assert store.inputs("mia").person == store.person("mia")
    return store.person("mia").weights_kg.entries


@pytest.fixture
def waiting(store):
    """72 kg a month after 32 kg, and nobody has said yet what that is."""
    store.take_in(weighed(72.0, DAY, "w1", question(72.0)), NOW)
    return store


def test_until_it_is_answered_the_weight_of_before_holds(waiting):
    assert counted(waiting) == ((KNOWN, 32.0),)


@pytest.mark.parametrize(
    ("answer", "then"), [("kilograms", (72.0,)), ("pounds", (pytest.approx(32.66, abs=0.01),)), ("leave_out", ())]
)
def test_the_answer_says_what_it_counts_as_and_everything_is_found_again(waiting, answer, then):
    (asked,) = waiting.questions("mia")
    waiting.answer(asked.question_id, answer, "father", NOW)
    assert tuple(kg for _, kg in counted(waiting)[1:]) == then
    assert waiting.changed_from("mia") is not None


def test_what_else_is_told_of_the_child_meanwhile_leaves_the_weighing_waiting(waiting):
    waiting.save_person(child(kg=33.0))
    assert counted(waiting) == ((KNOWN, 33.0),)
    (asked,) = waiting.questions("mia")
    waiting.answer(asked.question_id, "kilograms", "father", NOW)
    assert counted(waiting) == ((KNOWN, 33.0), (DAY, 72.0))


def test_an_answered_weighing_is_still_the_answered_one_after_something_else_is_told(waiting):
    (asked,) = waiting.questions("mia")
    waiting.answer(asked.question_id, "leave_out", "father", NOW)
    waiting.save_person(child(kg=33.0))
    assert counted(waiting) == ((KNOWN, 33.0),)


@pytest.mark.parametrize("answer", [None, "leave_out"])
def test_where_it_replaces_a_weight_of_the_same_day_that_one_stands_until_and_unless_it_is_meant(store, answer):
    store.take_in(weighed(72.0, KNOWN, "w1", question(72.0, KNOWN)), NOW)
    if answer is not None:
        (asked,) = store.questions("mia")
        store.answer(asked.question_id, answer, "father", NOW)
    assert counted(store) == ((KNOWN, 32.0),)


def test_a_second_odd_weight_of_the_day_does_not_make_the_first_count(store):
    store.take_in(weighed(72.0, KNOWN, "w1", question(72.0, KNOWN)), NOW)
    store.take_in(weighed(73.0, KNOWN, "w2", question(73.0, KNOWN)), NOW)
    assert counted(store) == ((KNOWN, 32.0),)


def test_a_typed_weighing_that_is_asked_about_waits_as_an_imported_one_does(store):
    told = store.weigh("mia", DAY, 72.0, (question(72.0),), NOW)
    assert (told.known, told.waits) == (False, True)
    assert counted(store) == ((KNOWN, 32.0),)
    (asked,) = store.questions("mia")
    store.answer(asked.question_id, "pounds", "father", NOW)
    assert counted(store)[1:] == ((DAY, pytest.approx(32.66, abs=0.01)),)


def test_the_next_true_weighing_of_the_day_takes_the_place_of_a_doubted_one_and_nothing_is_asked_any_more(store):
    store.weigh("mia", DAY, 72.0, (question(72.0),), NOW)
    store.weigh("mia", DAY, 32.4, (), NOW + timedelta(minutes=1))
    assert counted(store) == ((KNOWN, 32.0), (DAY, 32.4))
    assert store.questions("mia") == []


def test_the_doubted_weighing_is_asked_about_again_when_the_one_that_took_its_place_is_taken_back(store):
    store.weigh("mia", DAY, 72.0, (question(72.0),), NOW)
    store.weigh("mia", DAY, 32.4, (), NOW + timedelta(minutes=1))
    store.undo(store.last_changes("mia")[0].change_id, NOW + timedelta(minutes=2))
    assert counted(store) == ((KNOWN, 32.0),)
    assert len(store.questions("mia")) == 1


def test_a_doubted_weighing_can_be_withdrawn_and_typed_anew(store):
    store.weigh("mia", KNOWN, 72.0, (question(72.0, KNOWN),), NOW)
    store.undo(store.last_changes("mia")[0].change_id, NOW)
    assert counted(store) == ((KNOWN, 32.0),)
    assert store.questions("mia") == []
    assert store.weigh("mia", KNOWN, 72.0, (question(72.0, KNOWN),), NOW + timedelta(minutes=1)).waits


def test_a_weighing_that_was_left_out_is_asked_about_again_when_it_is_typed_again(store):
    store.weigh("mia", DAY, 72.0, (question(72.0),), NOW)
    store.answer(store.questions("mia")[0].question_id, "leave_out", "father", NOW)
    assert store.questions("mia") == []
    store.weigh("mia", DAY, 72.0, (question(72.0),), NOW + timedelta(minutes=1))
    assert len(store.questions("mia")) == 1


def test_a_weighing_that_is_corrected_by_a_later_file_counts(waiting):
    waiting.take_in(weighed(32.4, DAY, "w2"), NOW + timedelta(hours=1))
    assert counted(waiting) == ((KNOWN, 32.0), (DAY, 32.4))
