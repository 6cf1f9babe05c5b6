"""A weighing that does not go with the child counts nowhere before somebody says what it is."""

import re
from datetime import UTC, datetime

import pytest
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.store import Store


def typed(home, *words):
    return CliRunner().invoke(app, ["--home", str(home), *words])


@pytest.fixture
def home(tmp_path):
    typed(tmp_path, "person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
    return tmp_path


def weights(home):
    with Store.open(home) as store:
        return [kg for _, kg in store.person("mia").weights_kg.entries]


def test_pounds_typed_as_kg_change_nothing_and_wait(home):
    before = typed(home, "factors").output
    told = typed(home, "person", "weigh", "mia", "69")
    assert told.exit_code == 1
    assert "not counted yet" in told.output
    assert weights(home) == [31.5]
    assert typed(home, "factors").output.split("\n")[2:5] == before.split("\n")[2:5]
    with Store.open(home) as store:
        assert {each.question.kind for each in store.questions("mia")} <= {"weight_jump", "weight_for_age"}
        assert len(store.questions("mia")) == 1


@pytest.mark.parametrize("kg", ["45", "24.6", "36.9"])
def test_a_second_weighing_of_a_day_that_lies_apart_from_the_first_waits_and_the_first_counts(home, kg):
    told = typed(home, "person", "weigh", "mia", kg)
    assert told.exit_code == 1
    assert "31.5 kg of that day" in " ".join(told.output.split())
    assert weights(home) == [31.5]


def test_a_weighing_before_the_birth_is_refused(home):
    told = typed(home, "person", "weigh", "mia", "31.6", "--on", "2016-03-27")
    assert "before the birth" in str(told.exception)
    assert weights(home) == [31.5]


def test_the_true_weight_of_the_next_day_is_not_blamed(home):
    typed(home, "person", "weigh", "mia", "69", "--on", "2026-03-01")
    assert typed(home, "person", "weigh", "mia", "31.6", "--on", "2026-03-02").exit_code == 0
    assert 31.6 in weights(home)


def test_no_message_about_a_weighing_holds_a_number_nobody_typed(home):
    for words in (("69",), ("heavy",), ("3000",)):
        told = typed(home, "person", "weigh", "mia", *words)
        said = told.output + str(told.exception or "")
        assert "71.5" not in said
        assert "32.4" not in said
    assert not re.search(r"\d[\d.]*\s?(kg|lb)\b", typed(home, "person", "weigh", "--help").output)


def test_a_doubted_first_weight_counts_nowhere_either(tmp_path):
    added = typed(
        tmp_path, "person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "71"
    )
    assert added.exit_code == 1
    assert weights(tmp_path) == []


def test_a_wrong_birth_date_that_makes_a_child_grown_is_asked_about(tmp_path):
    words = ("person", "add", "mia", "--born", "1996-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
    added = typed(tmp_path, *words)
    assert added.exit_code == 1
    assert "born 1996-04-02" in " ".join(added.output.split())
    assert "wrong birth date" in " ".join(added.output.split())
    assert weights(tmp_path) == []


def test_a_birth_date_that_is_mended_takes_its_doubts_back(tmp_path):
    words = ("person", "add", "mia", "--born", "1996-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
    typed(tmp_path, *words)
    mended = typed(tmp_path, "person", "set", "mia", "--born", "2016-04-02")
    assert mended.exit_code == 0
    assert weights(tmp_path) == [31.5]
    with Store.open(tmp_path) as store:
        assert store.questions("mia") == []


def test_a_birth_date_changed_by_a_slip_puts_the_weights_in_doubt_and_undo_takes_it_back(home):
    slip = typed(home, "person", "set", "mia", "--born", "2001-04-02")
    assert slip.exit_code == 1
    assert "does not go with an age of" in " ".join(slip.output.split())
    assert weights(home) == []
    number = re.findall(r"^\s*(\d+)\s", typed(home, "undo").output, re.MULTILINE)[0]
    assert typed(home, "undo", number).exit_code == 0
    assert weights(home) == [31.5]
    with Store.open(home) as store:
        assert store.questions("mia") == []
        assert str(store.person("mia").born) == "2016-04-02"


@pytest.fixture
def in_pounds(tmp_path):
    """88 is what the scale showed in pounds; for fourteen years it passes as kg."""
    words = ("person", "add", "kai", "--born", "2012-09-01", "--zone", "Europe/Berlin", "--weight-kg", "88")
    assert typed(tmp_path, *words).exit_code == 0
    return tmp_path


def kg_of(home, person_id="kai"):
    with Store.open(home) as store:
        return [kg for _, kg in store.person(person_id).weights_kg.entries], store.questions(person_id)


def changes_of_weight(home):
    """Numbers of the changes that weighed, the latest first."""
    return re.findall(r"^\s*(\d+)\s.*\bkg\b", typed(home, "undo").output, re.MULTILINE)


@pytest.mark.parametrize(
    ("language", "told"),
    [
        ("en", "If 88.0 kg is the slip: kilograms puts 51.2 kg in its place."),
        ("de", "Sind 88 kg das Versehen: Mit „Kilogramm“ treten 51,2 kg an ihre Stelle."),
    ],
)
def test_the_weight_of_before_may_be_the_slip_and_the_question_says_what_to_answer_then(in_pounds, language, told):
    typed(in_pounds, "person", "set", "kai", "--language", language)
    assert told in " ".join(typed(in_pounds, "person", "weigh", "kai", "51.2").output.split())
    with Store.open(in_pounds) as store:
        (asked,) = store.questions("kai")
        store.answer(asked.question_id, "kilograms", "terminal", datetime.now(UTC))
    assert kg_of(in_pounds) == ([51.2], [])


def test_where_the_weight_of_another_day_may_be_the_slip_the_question_says_how_to_take_it_back(home):
    typed(home, "person", "weigh", "mia", "22", "--on", "2026-01-10")
    told = " ".join(typed(home, "person", "weigh", "mia", "45", "--on", "2026-01-20").output.split())
    assert re.search(r"If [\d.]+ kg is the slip: take it back, gramrise undo", told)


@pytest.mark.parametrize("on", [(), ("--on", "2026-03-01")])
def test_a_weight_counts_once_the_slip_it_did_not_go_with_is_taken_back(in_pounds, on):
    assert typed(in_pounds, "person", "weigh", "kai", "51.2", *on).exit_code == 1
    assert kg_of(in_pounds)[0] == [88.0]
    slip = changes_of_weight(in_pounds)[-1]
    undone = typed(in_pounds, "undo", slip)
    assert undone.exit_code == 0
    assert "kai: 51.2 kg on" in undone.output
    assert kg_of(in_pounds) == ([51.2], [])


def test_a_weight_that_goes_with_another_no_better_is_asked_about_in_the_words_of_now(home):
    typed(home, "person", "weigh", "mia", "33", "--on", "2026-03-01")
    typed(home, "person", "weigh", "mia", "46", "--on", "2026-03-02")
    assert "33.0 kg" in kg_of(home, "mia")[1][0].question.sentence
    typed(home, "undo", changes_of_weight(home)[1])
    counting, (asked,) = kg_of(home, "mia")
    assert counting == [31.5]
    assert "33.0 kg" not in asked.question.sentence
    assert asked.question.about["kg"] == 46.0


def test_a_heavy_grown_person_is_not_doubted(tmp_path):
    words = ("person", "add", "max", "--born", "1980-04-02", "--zone", "Europe/Berlin", "--weight-kg", "121")
    assert typed(tmp_path, *words).exit_code == 0
