"""Importing: twice changes nothing, corrections replace and remember, contradictions are kept and shown."""

from dataclasses import replace
from datetime import date, timedelta

import polars as pl
import pytest
from polars.testing import assert_frame_equal
from support.store_logs import NIGHT, NOW, batch, child, dose, readings

from gramrise.domain.batch import Quarantined, Question
from gramrise.domain.findings import Findings
from gramrise.domain.frames import EVENTS, FINGERS, WEIGHTS
from gramrise.domain.problems import Trouble, WrongUse
from gramrise.domain.sources import Form, Source

LATER = NOW + timedelta(hours=1)


def counts(summary):
    return summary.added, summary.corrected, summary.already_known


def test_importing_the_same_file_twice_changes_nothing(store):
    log = batch(readings=readings([90, 80, 70]), doses=dose())
    assert counts(store.take_in(log, NOW)) == (4, 0, 0)
    before = store.inputs("mia")
    again = store.take_in(log, LATER)
    assert again.known_file
    assert counts(again) == (0, 0, 0)
    assert_frame_equal(store.inputs("mia").readings, before.readings)
    assert len(store.imports()) == 1


def test_the_same_rows_in_another_file_are_known_already(store):
    store.take_in(batch(readings=readings([90, 80, 70]), doses=dose()), NOW)
    again = store.take_in(batch("h2", readings=readings([90, 80, 70]), doses=dose()), LATER)
    assert counts(again) == (0, 0, 4)
    assert store.inputs("mia").readings.height == 3
    assert store.questions("mia") == []


def test_a_corrected_value_replaces_the_old_one_which_is_remembered(store):
    store.take_in(batch(readings=readings([90, 80, 70])), NOW)
    assert counts(store.take_in(batch("h2", readings=readings([90, 81, 70])), LATER)) == (0, 1, 2)
    assert store.inputs("mia").readings["glucose_mg_dl"].to_list() == [90, 81, 70]
    (remembered,) = store.corrections("mia")
    assert remembered["before"] == {"glucose_mg_dl": 80.0, "range": "in"}
    assert remembered["after"] == {"glucose_mg_dl": 81.0, "range": "in"}
    assert (remembered["before_import_id"], remembered["import_id"]) == (1, 2)


def test_two_values_for_one_instant_in_one_file_are_both_kept_and_the_last_is_used(store):
    log = pl.concat([readings([90]), readings([95])])
    summary = store.take_in(batch(readings=log), NOW)
    assert (summary.added, summary.conflicts) == (1, 1)
    (conflict,) = store.conflicts("mia")
    assert conflict["kept"]["glucose_mg_dl"] == 95
    assert conflict["other"]["glucose_mg_dl"] == 90
    store.take_in(batch("h2", readings=log), LATER)
    assert len(store.conflicts("mia")) == 1


def test_a_value_exported_once_in_mmol_and_once_in_mg_is_one_value_whichever_comes_first(store):
    # 101 mg/dL is 5.606 mmol/L, exported as 5.6, which reads back as 100.887 mg/dL.
    in_mmol = readings([5.6 * 18.0156])
    first = store.take_in(batch(readings=in_mmol), NOW)
    second = store.take_in(batch("h2", readings=readings([101])), LATER)
    third = store.take_in(batch("h3", readings=in_mmol), LATER)
    assert [counts(s) for s in (first, second, third)] == [(1, 0, 0), (0, 0, 1), (0, 0, 1)]
    assert store.inputs("mia").readings["glucose_mg_dl"].to_list() == [101]
    assert store.corrections("mia") == []


def test_a_dry_run_says_what_would_happen_and_changes_nothing(store):
    summary = store.take_in(batch(readings=readings([90, 80])), NOW, dry_run=True)
    assert (summary.added, summary.dry_run) == (2, True)
    assert store.inputs("mia").readings.height == 0
    assert store.imports() == []


def test_two_tablets_and_ten_ml_in_one_minute_are_two_doses_and_a_second_log_of_them_changes_nothing(store):
    both = pl.concat([dose(), dose(amount=10.0, source="bottle", unit="mL", grams=2.5)])
    store.take_in(batch(doses=both), NOW)
    store.take_in(batch("h2", doses=both), LATER)
    assert store.inputs("mia").doses["source"].to_list() == ["bottle", "tin"]


def test_equal_amounts_four_minutes_apart_from_two_logs_are_asked_and_not_taught(store):
    store.take_in(batch(doses=dose()), NOW)
    summary = store.take_in(batch("h2", doses=dose(NIGHT + timedelta(minutes=4))), LATER)
    assert (summary.added, summary.questions) == (1, 1)
    assert store.inputs("mia").doses["remarks"].to_list() == [[], ["maybe_twice"]]
    (asked,) = store.questions("mia")
    assert "02:00 and 02:04" in asked.question.sentence


def doubted(amount=40.0):
    """A dose that is asked about, as intake states it: of no source, without grams."""
    return dose(amount=amount, source="", unit="", grams=None)


@pytest.mark.parametrize("first_doubted", [True, False])
@pytest.mark.parametrize(("answer", "grams"), [("same", [12.0]), ("apart", [12.0, None])])
def test_a_mended_amount_beside_a_doubted_one_is_asked_about_and_never_both_count(store, first_doubted, answer, grams):
    about = {"taken_at_utc": NIGHT.isoformat(), "source": "", "ordinal": 1, "amount": 40.0}
    large = Question("mia", "amount_large", "k", "40?", ("piece:tin", "grams", "not_glucose"), about)
    logs = [batch("h1", doses=doubted(), questions=(large,)), batch("h2", doses=dose())]
    for at, log in zip((NOW, LATER), logs if first_doubted else logs[::-1], strict=True):
        store.take_in(log, at)
    twice = next(each for each in store.questions("mia") if each.question.kind == "maybe_twice")
    store.answer(twice.question_id, answer, "mother", LATER)
    assert sorted(store.inputs("mia").doses["grams"].to_list(), key=str) == grams
    assert [each.question.kind for each in store.questions("mia")] == ([] if answer == "same" else ["amount_large"])


@pytest.mark.parametrize(("answer", "left"), [("same", [12.0]), ("apart", [12.0, 12.0])])
def test_the_answer_whether_it_was_one_glucose_is_applied_and_kept_with_who_gave_it(store, answer, left):
    store.take_in(batch(doses=dose()), NOW)
    store.take_in(batch("h2", doses=dose(NIGHT + timedelta(minutes=4))), LATER)
    (asked,) = store.questions("mia")
    store.answer(asked.question_id, answer, "mother", LATER)
    doses = store.inputs("mia").doses
    assert doses["grams"].to_list() == left
    assert doses["remarks"].list.len().sum() == 0
    assert store.questions("mia") == []
    (kept,) = store.questions("mia", only_open=False)
    assert (kept.answer, kept.answered_by, kept.answered_at_utc) == (answer, "mother", LATER)


def test_equal_amounts_six_minutes_apart_or_from_one_log_are_two_doses(store):
    store.take_in(batch(doses=dose()), NOW)
    store.take_in(batch("h2", doses=dose(NIGHT + timedelta(minutes=6))), LATER)
    store.take_in(
        batch("h3", doses=pl.concat([dose(NIGHT + timedelta(hours=h, minutes=m)) for h, m in ((9, 0), (9, 3))])), LATER
    )
    assert store.questions("mia") == []


def test_a_log_that_states_both_doses_beside_each_other_is_not_asked_about(store):
    store.take_in(batch(doses=dose()), NOW)
    both = pl.concat([dose(), dose(NIGHT + timedelta(minutes=4))])
    assert store.take_in(batch("h2", doses=both), LATER).questions == 0


def test_an_answer_nobody_offered_is_refused(store):
    store.take_in(batch(doses=dose(), questions=(Question("mia", "unit", "k", "3 what?", ("piece", "g")),)), NOW)
    (asked,) = store.questions("mia")
    with pytest.raises(WrongUse, match="piece, g"):
        store.answer(asked.question_id, "spoons", "father", NOW)
    with pytest.raises(WrongUse, match="no question 99"):
        store.answer(99, "g", "father", NOW)


BARE = {"taken_at_utc": NIGHT.isoformat(), "source": "", "ordinal": 1, "amount": 3.0, "amount_unit": ""}


@pytest.mark.parametrize(
    ("answer", "source", "grams"),
    [("piece:tin", "tin", [12.0]), ("g", "", [3.0]), ("grams:7.5", "", [7.5]), ("not_glucose", "", [])],
)
def test_a_bare_three_is_what_the_family_says_it_is(store, answer, source, grams):
    question = Question("mia", "bare_amount", "k", "3 of what?", ("piece:tin", "g", "grams", "not_glucose"), BARE)
    store.take_in(batch(doses=dose(source="", unit="", grams=None), questions=(question,)), NOW)
    assert store.inputs("mia").doses["grams"].to_list() == [None]
    store.answer(store.questions("mia")[0].question_id, answer, "father", NOW)
    doses = store.inputs("mia").doses
    assert doses["grams"].to_list() == grams
    assert doses["source"].to_list() == [source] * len(grams)


@pytest.mark.parametrize(
    ("answer", "unit", "grams"),
    [("pieces", "g", [3.0 * 4, 12.0]), ("grams", "g", [3.0, 12.0]), ("grams", "piece", [3.0, 3.0])],
)
def test_a_log_of_doubtful_amounts_is_read_as_the_family_says(store, answer, unit, grams):
    """A log is all doses of one source, unit and origin; the dose in pieces of the tin is a log of its own."""
    source = "tin" if unit == "piece" else ""
    about = {"source": source, "amount_unit": unit, "origin": "file", "near": 4.0}
    question = Question("mia", "pieces_or_grams", f"{source}|{unit}|file", "Which?", ("pieces", "grams"), about)
    doubtful = dose(source=source, unit=unit, amount=3.0, grams=3.0 if unit == "g" else 12.0)
    store.take_in(batch(doses=doubtful), NOW)
    store.take_in(batch("h2", doses=dose(NIGHT + timedelta(hours=3))), LATER)
    store.save_findings("mia", Findings(NOW), (question,))
    store.answer(store.questions("mia")[0].question_id, answer, "father", NOW)
    assert store.inputs("mia").doses["grams"].to_list() == grams
    # Asked once: the same question found again the next night stays answered.
    store.save_findings("mia", Findings(LATER), (question,))
    assert store.questions("mia") == []


@pytest.mark.parametrize(
    ("answer", "kg"), [("pounds", [32.0, 31.75]), ("kilograms", [32.0, 70.0]), ("leave_out", [32.0])]
)
def test_a_weight_that_jumps_is_what_the_family_says_and_stays_so_when_imported_again(store, answer, kg):
    weighed = pl.DataFrame([("mia", date(2026, 2, 1), 70.0)], schema=WEIGHTS.schema, orient="row")
    about = {"on": "2026-02-01", "kg": 70.0, "kg_if_pounds": 31.75}
    question = Question("mia", "weight_jump", "2026-02-01", "kg?", ("pounds", "kilograms", "leave_out"), about)
    store.take_in(batch(weights=weighed, questions=(question,)), NOW)
    store.answer(store.questions("mia")[0].question_id, answer, "father", NOW)
    assert [value for _, value in store.person("mia").weights_kg.entries] == kg
    store.take_in(batch("h2", weights=weighed), LATER)
    assert [value for _, value in store.person("mia").weights_kg.entries] == kg


def test_a_file_full_of_another_childs_readings_is_asked_about_and_taken_back_when_it_was_theirs(store):
    store.save_person(child("tom"))
    theirs = [90 + (i * 37) % 50 for i in range(60)]
    store.take_in(batch("t1", person_id="tom", readings=readings(theirs, person_id="tom")), NOW)
    store.take_in(batch(readings=readings([70, 71, 72])), NOW)
    wrong = batch("h2", readings=readings(theirs), doses=dose())
    assert store.take_in(wrong, LATER).questions == 1
    (asked,) = store.questions("mia")
    assert asked.question.kind == "whose_file"
    assert asked.question.answers == ("mia", "tom")
    assert "60 of its readings equal those of tom" in asked.question.sentence
    store.answer(asked.question_id, "tom", "father", LATER)
    assert store.inputs("mia").readings["glucose_mg_dl"].to_list() == [70, 71, 72]
    assert store.inputs("mia").doses.height == 0
    assert store.corrections("mia") == []
    assert [entry["import_id"] for entry in store.imports("mia")] == [2]


def test_all_equal_readings_of_a_long_file_are_counted(store):
    store.save_person(child("tom"))
    theirs = [90 + (i * 37) % 50 for i in range(1900)]
    store.take_in(batch("t1", person_id="tom", readings=readings(theirs, person_id="tom")), NOW)
    store.take_in(batch("h2", readings=readings(theirs)), LATER)
    assert "1900 of its readings equal those of tom" in store.questions("mia")[0].question.sentence


def test_two_children_who_share_a_few_values_by_chance_are_not_asked_about(store):
    store.save_person(child("tom"))
    store.take_in(batch("t1", person_id="tom", readings=readings([100] * 200, person_id="tom")), NOW)
    mine = [100 if i % 5 == 0 else 120 + i % 7 for i in range(200)]
    assert store.take_in(batch(readings=readings(mine)), LATER).questions == 0


def test_a_question_is_asked_once_however_often_it_is_met(store):
    question = Question("mia", "weight", "2026-01-10", "Kilograms or pounds?", ("kg", "lb"))
    first = store.take_in(batch(doses=dose(), questions=(question,)), NOW)
    second = store.take_in(batch("h2", doses=dose(), questions=(question,)), LATER)
    assert (first.questions, second.questions, len(store.questions("mia"))) == (1, 0, 1)


def test_rows_that_could_not_be_read_are_kept_with_place_and_mend_and_a_retry_replaces_them(store):
    trouble = Trouble("not_a_number", "march.csv", 41, "grams", "3 tabs", "grams must be a number", "write 12")
    log = batch(readings=readings([90]), quarantine=(Quarantined(trouble, "02:10,3 tabs"),))
    assert store.take_in(log, NOW).quarantined == 1
    ((who, held),) = store.quarantine()
    assert (who, held.trouble, held.text) == ("mia", trouble, "02:10,3 tabs")
    mended = batch(readings=readings([90]), doses=dose())
    assert store.take_in(mended, LATER).known_file
    retried = store.take_in(mended, LATER, retry=True)
    assert (retried.added, retried.already_known, retried.quarantined) == (1, 1, 0)
    assert store.quarantine() == []


def unknown(amount=3.0, unit="piece"):
    """A dose of a source nobody has stated, with the question about it."""
    about = {"taken_at_utc": NIGHT.isoformat(), "source": "", "ordinal": 1, "amount": amount, "amount_unit": unit}
    asked = Question("mia", "unknown_source", f"{NIGHT.isoformat()}  1", "Of what?", ("grams", "not_glucose"), about)
    return {"doses": dose(source="", amount=amount, unit=unit, grams=None), "questions": (asked,)}


def test_a_file_looked_at_again_once_its_source_is_stated_restates_its_doses_and_doubles_none(store):
    store.take_in(batch(**unknown()), NOW)
    store.save_findings("mia", Findings(NOW))
    again = store.take_in(batch(doses=dose()), LATER, retry=True)
    assert again.questions == 0
    assert store.inputs("mia").doses.select("source", "grams").rows() == [("tin", 12.0)]
    assert store.questions("mia") == []
    assert store.changed_from("mia") == NIGHT
    once_more = store.take_in(batch(doses=dose()), LATER, retry=True)
    assert counts(once_more) == (0, 0, 1)


@pytest.mark.parametrize(("answer", "left"), [("grams:5", [5.0]), ("not_glucose", [])])
def test_what_the_family_has_explained_meanwhile_stays_as_they_said(store, answer, left):
    store.take_in(batch(**unknown()), NOW)
    store.answer(store.questions("mia")[0].question_id, answer, "father", NOW)
    store.take_in(batch(doses=dose()), LATER, retry=True)
    assert store.inputs("mia").doses["grams"].to_list() == left


def test_another_files_dose_that_was_corrected_by_what_is_no_longer_stated_stands_again(store):
    store.take_in(batch("h0", doses=dose(amount=2.0)), NOW)
    store.take_in(batch(doses=dose()), NOW)
    store.take_in(batch(doses=dose(NIGHT + timedelta(hours=1))), LATER, retry=True)
    assert store.inputs("mia").doses["amount"].to_list() == [2.0, 3.0]
    assert store.corrections("mia") == []


def test_a_file_looked_at_again_by_another_layout_contradicts_nobody(store):
    store.take_in(batch(doses=dose(amount=2.0)), NOW)
    again = store.take_in(replace(batch(doses=dose(amount=3.0)), layout="another"), LATER, retry=True)
    assert (counts(again), store.questions("mia")) == ((0, 1, 0), [])
    assert store.inputs("mia").doses["amount"].to_list() == [3.0]


def test_another_files_dose_near_by_is_still_asked_about_when_a_file_is_looked_at_again(store):
    store.take_in(batch("h0", doses=dose(NIGHT + timedelta(minutes=3))), NOW)
    store.take_in(batch(**unknown(amount=1.0)), NOW)
    assert store.take_in(batch(doses=dose()), LATER, retry=True).questions == 1


@pytest.mark.parametrize("unit", ["piece", ""])
def test_an_amount_may_be_answered_with_a_source_stated_after_it_was_asked(store, unit):
    store.take_in(batch(**unknown(unit=unit)), NOW)
    (asked,) = store.questions("mia")
    with pytest.raises(WrongUse, match="piece:tin"):
        store.answer(asked.question_id, "piece:tim", "father", NOW)
    store.answer(asked.question_id, "piece:tin", "father", NOW)
    assert store.inputs("mia").doses.select("source", "amount_unit", "grams").rows() == [("tin", "piece", 12.0)]


def test_an_amount_answered_with_a_source_that_came_later_has_the_first_strength_told_of_it(store):
    candy = Source("candy", Form.TABLET, 1.0)
    mia = store.person("mia")
    store.save_person(replace(mia, sources=mia.sources.with_entry(date(2026, 6, 1), (*mia.sources_now(), candy))))
    store.take_in(batch(**unknown()), NOW)
    store.answer(store.questions("mia")[0].question_id, "piece:candy", "father", NOW)
    assert store.inputs("mia").doses["grams"].to_list() == [3 * candy.glucose_per_unit_g]


def test_finger_sticks_events_and_weights_come_back_as_they_were(store):
    fingers = pl.DataFrame([("mia", NIGHT, 64.0, "in")], schema=FINGERS.schema, orient="row")
    rows = [
        ("mia", NIGHT, None, "insulin", 0.5, ""),
        ("mia", NIGHT, None, "insulin", 1.5, ""),
        ("mia", NIGHT, NIGHT + timedelta(hours=1), "activity", None, "swimming, fast"),
    ]
    events = EVENTS.check(pl.DataFrame(rows, schema=EVENTS.schema, orient="row"))
    weights = pl.DataFrame([("mia", date(2026, 2, 1), 32.5)], schema=WEIGHTS.schema, orient="row")
    store.take_in(batch(fingers=fingers, events=events, weights=weights), NOW)
    inputs = store.inputs("mia")
    assert_frame_equal(inputs.fingers, fingers)
    assert_frame_equal(inputs.events, events)
    assert [kg for _, kg in inputs.person.weights_kg.entries] == [32.0, 32.5]
    store.take_in(batch("h2", fingers=fingers, events=events, weights=weights), LATER)
    assert_frame_equal(store.inputs("mia").events, events)


def test_an_import_for_somebody_unknown_is_refused(store):
    with pytest.raises(WrongUse, match="nobody here has the id 'tom'"):
        store.take_in(batch(person_id="tom"), NOW)


def test_the_earliest_changed_instant_is_known_until_findings_are_saved(store):
    store.take_in(batch(readings=readings([90, 80, 70])), NOW)
    store.save_findings("mia", Findings(NOW))
    assert store.changed_from("mia") is None
    store.take_in(batch("h2", readings=readings([90, 80, 71, 60])), LATER)
    assert store.changed_from("mia") == NIGHT + timedelta(minutes=10)
