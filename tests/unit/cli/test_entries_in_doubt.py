"""Two files that say something else of one minute: nothing is answered of words that no longer stand, none are lost."""

from datetime import UTC, datetime

import pytest
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.domain.problems import WrongUse
from gramrise.store import Store


@pytest.fixture
def home(tmp_path):
    CliRunner().invoke(app, ["--home", str(tmp_path), "person", "add", "mia", "--born", "2016-04-02", "--zone",
                             "Europe/Berlin", "--weight-kg", "31.5"])  # fmt: skip
    CliRunner().invoke(app, ["--home", str(tmp_path), "person", "source", "mia", "candy", "--form", "tablet",
                             "--grams-per-piece", "4", "--stated-as", "anhydrous"])  # fmt: skip
    return tmp_path


def noted(home, name: str, words: str) -> str:
    path = home / name
    path.write_text(f"2026-01-20\n{words}\n")
    return CliRunner().invoke(app, ["--home", str(home), "import", str(path)]).output


def undone(home, number: int) -> None:
    assert CliRunner().invoke(app, ["--home", str(home), "undo", str(number)]).exit_code == 0


def asked(home) -> list[str]:
    with Store.open(home) as store:
        return [str(each.question.about.get("text", each.question.kind)) for each in store.questions("mia")]


def grams(home) -> list[float | None]:
    with Store.open(home) as store:
        return store.inputs("mia").doses["grams"].to_list()


def answered(home, text: str, answer: str) -> None:
    with Store.open(home) as store:
        (each,) = [each for each in store.questions("mia") if each.question.about.get("text") == text]
        store.answer(each.question_id, answer, "Mama", datetime(2026, 3, 14, tzinfo=UTC))


def test_an_entry_that_a_later_file_changed_is_asked_about_in_the_words_that_count(home):
    noted(home, "night 1.txt", "02:10 3 packs")
    assert "1 corrected, 1 to be asked" in noted(home, "night 2.txt", "02:10 15 grapes")
    assert asked(home) == ["15 grapes"]
    undone(home, 4)
    assert asked(home) == ["3 packs"]


def test_an_answer_of_before_says_nothing_of_the_amount_that_took_its_place(home):
    noted(home, "night 1.txt", "02:10 3 packs")
    answered(home, "3 packs", "piece:candy")
    assert grams(home) == [12.0]
    noted(home, "night 2.txt", "02:10 15 grapes")
    assert grams(home) == [None]
    answered(home, "15 grapes", "grams:10")
    assert grams(home) == [10.0]
    undone(home, 6)  # the answer about the grapes
    undone(home, 5)
    assert grams(home) == [12.0]


def test_the_same_words_from_another_file_ask_nothing_again(home):
    noted(home, "a.txt", "02:10 3 packs")
    answered(home, "3 packs", "piece:candy")
    assert "1 known already" in noted(home, "b.txt", "02:10 3 packs\n")
    assert asked(home) == []
    assert grams(home) == [12.0]


def test_unclear_amounts_in_other_words_are_two_entries_and_maybe_one(home):
    noted(home, "a.txt", "02:10 3 or 4 pieces")
    noted(home, "b.txt", "02:10 9 or 10 pieces")
    assert sorted(asked(home)) == ["3 or 4 pieces", "9 or 10 pieces", "maybe_twice"]
    assert "1 known already" in noted(home, "c.txt", "02:10 9 or 10 pieces\n")
    assert grams(home) == [None, None]
    answered(home, "3 or 4 pieces", "grams:14")
    answered(home, "9 or 10 pieces", "grams:38")
    assert sorted(grams(home)) == [14.0, 38.0]


def test_an_unclear_amount_taken_back_leaves_the_other_and_no_question_of_the_two(home):
    noted(home, "a.txt", "02:10 3 or 4 pieces")
    noted(home, "b.txt", "02:10 9 or 10 pieces")
    undone(home, 3)
    assert asked(home) == ["9 or 10 pieces"]
    assert grams(home) == [None]


def test_an_answer_to_what_was_asked_before_is_refused_by_its_number(home):
    noted(home, "a.txt", "02:10 3 packs")
    with Store.open(home) as store:
        (each,) = store.questions("mia")
        with pytest.raises(WrongUse, match="none of the answers"):
            store.answer(each.question_id, "piece:toast", "Mama", each.asked_at_utc)


def test_two_unclear_amounts_of_one_source_and_minute_are_both_answered(home):
    noted(home, "a.txt", "02:10 2-3 candy\n02:10 1-2 candy")
    answered(home, "2-3 candy", "grams:10")
    answered(home, "1-2 candy", "grams:4")
    assert sorted(grams(home)) == [4.0, 10.0]


def test_undoing_a_correction_brings_the_grams_of_before_back(home):
    noted(home, "night 1.txt", "02:10 8 g\n04:10 2-3 candy")
    noted(home, "night 2.txt", "02:10 4 g\n04:10 5 candy")
    assert sorted(grams(home)) == [4.0, 20.0]
    undone(home, 4)
    assert grams(home) == [8.0, None]
    assert asked(home) == ["2-3 candy"]


def test_the_same_written_twice_holds_for_the_amount_it_was_said_of(home):
    noted(home, "a.txt", "02:10 3 candy")
    noted(home, "b.txt", "02:14 3 candy")
    with Store.open(home) as store:
        (each,) = store.questions("mia")
        store.answer(each.question_id, "same", "Mama", each.asked_at_utc)
    assert grams(home) == [12.0]
    noted(home, "c.txt", "02:14 5 candy")
    assert grams(home) == [12.0, 20.0]


@pytest.mark.parametrize(
    ("answer", "left"), [("first", [16.0]), ("second", [12.0]), ("apart", [12.0, 16.0]), ("", [12.0, 16.0])]
)
def test_two_logs_that_name_different_amounts_of_a_minute_are_asked_about(home, answer, left):
    noted(home, "mother.txt", "02:10 4 candy")
    assert "1 new, 1 to be asked" in noted(home, "father.txt", "02:10 3 candy")
    with Store.open(home) as store:
        (each,) = store.questions("mia")
        if answer:
            store.answer(each.question_id, answer, "Mama", each.asked_at_utc)
    assert sorted(grams(home)) == left
    assert "1 known already" in noted(home, "father.txt", "02:10 3 candy\n")
    assert sorted(grams(home)) == left


def test_until_it_is_answered_neither_of_two_logs_amounts_is_learnt_from(home):
    noted(home, "mother.txt", "02:10 4 candy")
    noted(home, "father.txt", "02:10 3 candy")
    with Store.open(home) as store:
        assert ["maybe_twice"] in store.inputs("mia").doses["remarks"].to_list()


def test_a_log_that_is_written_on_corrects_itself_beside_another_log(home):
    noted(home, "mother.txt", "02:10 4 candy")
    noted(home, "father.txt", "02:10 3 candy")
    assert "1 corrected" in noted(home, "father 2.txt", "02:10 5 candy")
    assert sorted(grams(home)) == [16.0, 20.0]
    assert asked(home) == ["which_amount"]


@pytest.mark.parametrize(("number", "left"), [(3, [12.0]), (4, [16.0])])
def test_where_one_of_two_logs_is_taken_back_nothing_is_asked(home, number, left):
    noted(home, "mother.txt", "02:10 4 candy")
    noted(home, "father.txt", "02:10 3 candy")
    undone(home, number)
    assert (asked(home), grams(home)) == ([], left)


def test_a_log_joined_to_itself_counts_once_and_two_lines_of_a_minute_count_twice(home):
    lines = "02:10 3 candy\n02:10 3 candy\n04:10 2 candy"
    noted(home, "a.txt", f"{lines}\n{lines}")
    assert grams(home) == [12.0, 12.0, 8.0]


@pytest.mark.parametrize("typed", ["grams:300", "grams:61"])
def test_more_grams_than_one_treatment_holds_are_no_answer(home, typed):
    noted(home, "a.txt", "02:10 2-3 candy")
    with pytest.raises(WrongUse, match="none of the answers"):
        answered(home, "2-3 candy", typed)
    assert grams(home) == [None]
