"""`gramrise count`, `counts` and `ask`: from a cold start to an answer that becomes a logged amount."""

import json
from dataclasses import replace
from datetime import UTC, datetime

import pytest
import time_machine
from jsonschema import validate
from support.place_people import child, day_with_turns
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.domain.batch import Batch
from gramrise.domain.questions import Question
from gramrise.nightly import current_findings
from gramrise.report.weekly.numbers.questions import question_sentence, question_views
from gramrise.report.words import words_for
from gramrise.store import Store

EVENING = datetime(2026, 3, 2, 19, 0, tzinfo=UTC)


@pytest.fixture
def home(tmp_path):
    """The child's trace of one school day, with one sharp turn at 10:00 and a soft one at 14:00."""
    with Store.open(tmp_path / "home") as store:
        store.save_person(child())
        readings = day_with_turns((180, 62, 130), (420, 68, 88))
        store.take_in(Batch("mia", "day.csv", "day", "readings", readings.height, readings=readings), EVENING)
    return tmp_path / "home"


def typed(home, *words, said=""):
    with time_machine.travel(EVENING, tick=False):
        done = CliRunner().invoke(app, ["--home", str(home), *words], input=said)
    return done.exit_code, " ".join(done.output.split()), done.exception


COUNT = ("count", "school tin", "--filled", "20", "--left", "15", "--from", "07:00")


def test_a_count_is_logged_and_laid_and_its_answer_becomes_logged(home):
    status, told, trouble = typed(home, *COUNT)
    assert (status, trouble) == (0, None), told
    assert "5 of 20 pieces of candy gone" in told
    status, told, _ = typed(home, "counts")
    assert status == 0
    assert "5 not logged (5.0 g)" in told
    assert "5 pieces near Mon 09:57" in told
    assert "does not mean eaten" in told
    assert "1 answered" in typed(home, "ask", said="1\n")[1]
    with Store.open(home) as store:
        doses = store.inputs("mia").doses
    assert doses.select("amount", "grams", "origin").rows() == [(5.0, 5.0, "count")]
    assert "0 not logged" in typed(home, "counts")[1]
    assert "No questions" in typed(home, "ask")[1]


def test_an_unanswered_count_logs_and_teaches_nothing(home):
    typed(home, *COUNT)
    typed(home, "ask", said="\n")
    with Store.open(home) as store:
        assert store.inputs("mia").doses.height == 0
        assert [each.question.kind for each in store.questions("mia")] == ["gone_from_container"]


def test_not_this_child_closes_the_question_and_logs_nothing(home):
    typed(home, *COUNT)
    assert "1 answered" in typed(home, "ask", said="not_this_child\n")[1]
    with Store.open(home) as store:
        assert store.inputs("mia").doses.height == 0


def test_the_next_count_begins_where_the_last_ended_with_what_was_left(home):
    typed(home, "count", "school tin", "--filled", "20", "--left", "18", "--from", "07:00", "--to", "12:00")
    status, told, _ = typed(home, "count", "school tin", "--left", "15")
    assert status == 0
    assert "3 of 18 pieces of candy gone, Mon 02 Mar 2026 12:00 to" in told


def test_overlapping_counts_are_refused(home):
    typed(home, *COUNT)
    assert "overlaps" in str(
        typed(home, "count", "school tin", "--filled", "9", "--left", "8", "--from", "08:00", "--to", "10:00")[2]
    )


def test_a_file_of_counts_is_taken_in_once(home, tmp_path):
    (tmp_path / "c.csv").write_text(
        "container,source,from,to,filled,left\nbag,candy,2026-03-02 07:00,2026-03-02 12:00,8,5\n", "utf-8"
    )
    assert "c.csv (counts): 1 new" in typed(home, "import", str(tmp_path / "c.csv"))[1]
    assert "1 known already" in typed(home, "import", str(tmp_path / "c.csv"))[1]
    assert "3 pieces gone" in typed(home, "counts")[1]


def test_a_file_of_counts_that_was_taken_in_for_a_sibling_waits(home, tmp_path):
    rows = "container,source,from,to,filled,left\nbag,candy,2026-03-02 07:00,2026-03-02 12:00,8,5\n"
    (tmp_path / "c.csv").write_text(rows, "utf-8")
    assert "c.csv (counts): 1 new" in typed(home, "import", str(tmp_path / "c.csv"))[1]
    with Store.open(home) as store:
        mia = store.persons()[0]
        store.save_person(replace(mia, person_id="tom", name="Tom"))
    waits = typed(home, "import", str(tmp_path / "c.csv"), "--person", "tom")
    assert "the very same file was taken in for" in " ".join(str(waits).split())
    with Store.open(home) as store:
        assert store.supplies.counts("tom") == []
    typed(home, "import", str(tmp_path / "c.csv"), "--person", "tom", "--replace")
    with Store.open(home) as store:
        assert len(store.supplies.counts("tom")) == 1


def test_the_json_document_keeps_its_promised_keys(home):
    typed(home, *COUNT)
    status, _, _ = typed(home, "counts", "--json")
    assert status == 0
    with time_machine.travel(EVENING, tick=False):
        printed = CliRunner().invoke(app, ["--home", str(home), "counts", "--json"]).output
    document = json.loads(printed)
    validate(document, json.loads(CliRunner().invoke(app, ["schema", "counts"]).output))
    (row,) = document["counts"]
    assert list(row) == [
        "person", "container", "from_utc", "to_utc", "pieces_filled", "pieces_left", "grams_untimed", "placements",
    ]  # fmt: skip
    assert row["placements"][0]["given"] == [{"at_utc": "2026-03-02T09:57:00Z", "pieces": 5}]
    assert [] in [placement["given"] for placement in row["placements"]]


def test_stock_from_a_cold_start_says_what_to_count_and_then_what_is_there(home):
    assert "not known what is on hand" in typed(home, "stock")[1]
    typed(home, "stock", "candy", "--on-hand", "40", "--at", "06:00")
    typed(home, *COUNT)
    assert "candy: about 35 pieces on hand" in typed(home, "stock")[1]
    assert "one of: candy" in str(typed(home, "stock", "juice", "--on-hand", "3")[2])


def test_the_night_asks_about_a_count_and_the_report_shows_the_question_in_the_persons_language(home):
    typed(home, *COUNT)
    status, told, trouble = typed(home, "nightly")
    assert trouble is None or status in {0, 1}, told
    with Store.open(home) as store:
        (asked,) = store.questions("mia")
    view = question_views([asked.question])[0]
    german = question_sentence(view, words_for("de", "mg/dL", "UTC"))
    assert "Es ist in Ordnung, es nicht zu wissen" in german
    assert "school tin" in german


def contradicted(home, said):
    """Five pieces are logged, three are gone; what the family answers."""
    typed(home, "give", "5", "pieces", "--at", "09:55")
    typed(home, "count", "school tin", "--filled", "20", "--left", "17", "--from", "07:00")
    assert "More is logged than is gone" in typed(home, "counts")[1]
    assert "1 answered" in typed(home, "ask", said=f"{said}\n")[1]
    with Store.open(home) as store:
        (counted,) = store.supplies.counts("mia")
    return counted, typed(home, "counts")[1]


def test_the_log_is_right_and_it_was_refilled_puts_more_pieces_in(home):
    counted, told = contradicted(home, "refilled")
    assert (counted.pieces_filled, counted.pieces_left) == (22, 17)
    assert "More is logged" not in told
    assert "No questions" in typed(home, "ask")[1]


def test_the_log_is_right_and_it_was_counted_wrongly_leaves_fewer_pieces(home):
    counted, told = contradicted(home, "miscounted")
    assert (counted.pieces_filled, counted.pieces_left) == (20, 15)
    assert "5 of 20" in told or "5 pieces gone, 5 logged" in told


def test_the_count_is_right_closes_the_question_and_changes_no_count(home):
    counted, told = contradicted(home, "count_right")
    assert (counted.pieces_filled, counted.pieces_left) == (20, 17)
    assert "you said the count is right" in told
    assert "gramrise ask" not in told


def test_a_corrected_count_goes_back_when_its_answer_is_taken_back(home):
    contradicted(home, "miscounted")
    listed = typed(home, "undo")[1]
    assert "answer" in listed.lower()
    number = next(word for word in listed.replace(",", " ").split() if word.isdigit())
    typed(home, "undo", number)
    with Store.open(home) as store:
        (counted,) = store.supplies.counts("mia")
    assert counted.pieces_left == 17


def test_glucose_given_for_a_low_nobody_wrote_down_is_kept_without_grams_and_taught_by_nobody(home):
    question = Question(
        "mia", "looks_treated", "2026-03-02T09:40:00+00:00", "Was glucose given?", ("glucose", "unknown"),
        {"taken_at_utc": "2026-03-02T10:00:00+00:00"},
    )  # fmt: skip
    with Store.open(home) as store:
        store.supplies.ask("mia", [question], EVENING)
        (asked,) = store.questions("mia")
        store.answer(asked.question_id, "glucose", "terminal", EVENING)
        (dose,) = store.inputs("mia").doses.rows(named=True)
        found = current_findings(store, "mia", EVENING, home)
    assert (dose["grams"], dose["origin"], dose["remarks"]) == (None, "answer", ["time_doubtful"])
    (pairing,) = found.pairings.rows(named=True)
    assert pairing["verdict"] == "set_aside"
    assert "amount_unknown" in pairing["reasons"]


def test_a_german_family_reads_its_counts_stock_and_answers_in_german(home):
    with Store.open(home) as store:
        store.save_person(replace(store.person("mia"), language="de"))
    told = typed(home, *COUNT)[1]
    assert "5 von 20 Stück candy fehlen" in told
    told = typed(home, "counts")[1]
    assert "5 Stück um Mo 09:57" in told
    assert "muss nicht gegessen sein" in told
    told = typed(home, "ask", said="not_this_child\n")[1]
    assert "5 Stück um Mo 09:57 (" in told
    assert "nicht dieses Kind: Geschwister" in told
    assert "near" not in told
    assert "auch in Behältern und Taschen" in typed(home, "stock", "candy", "--on-hand", "30")[1]


def test_a_count_that_was_answered_says_so_and_how(home):
    typed(home, *COUNT)
    typed(home, "ask", said="not_this_child\n")
    told = typed(home, "counts")[1]
    assert "5 not logged (5.0 g). Answered: not this child: a sibling, a friend" in told
    assert "near" not in told
    assert "Unanswered" not in told
    with Store.open(home) as store:
        store.save_person(replace(store.person("mia"), language="de"))
    told = typed(home, "counts")[1]
    assert "Beantwortet: nicht dieses Kind: Geschwister, Freunde" in told
    assert "auf: „school tin“, ab Mo 02.03.2026 07:00: Es fehlen mehr Stücke" in typed(home, "undo")[1]


def test_a_count_answered_by_pieces_says_when_they_were_taken(home):
    typed(home, *COUNT)
    typed(home, "ask", said="1\n")
    assert "Answered: 5 pieces near Mon 09:57" in typed(home, "counts")[1]


def test_a_note_that_only_counts_a_tin_is_not_said_to_bring_nothing(home, tmp_path):
    typed(home, "count", "school tin", "--filled", "20", "--left", "18", "--from", "07:00", "--to", "08:00")
    told = note(home, tmp_path, "16:10 school tin: 7 left\n")[1]
    assert "note 2026-03-02.txt (text-note): 1 count." in told
    assert "1 count" not in note(home, tmp_path, "16:10 school tin: 7 left\n10:40 3 pieces\n")[1]


def note(home, tmp_path, text):
    file = tmp_path / "note 2026-03-02.txt"
    file.write_text(text, encoding="utf-8")
    return typed(home, "import", str(file), "--person", "mia")


def test_a_note_counts_a_tin_that_is_known_and_gives_what_else_it_says(home, tmp_path):
    typed(home, "count", "school tin", "--filled", "20", "--left", "18", "--from", "07:00", "--to", "08:00")
    status, told, trouble = note(home, tmp_path, "10:40 3 pieces\n16:10 school tin: 7 left\n")
    assert (status, trouble) == (0, None), told
    assert "11 of 18 pieces of candy gone" in told
    assert "1 new" in told
    note(home, tmp_path, "10:40 3 pieces\n16:10 school tin: 7 left\n")
    with Store.open(home) as store:
        counts = store.supplies.counts("mia")
        assert store.inputs("mia").doses["amount"].to_list() == [3.0]
    assert [(each.pieces_filled, each.pieces_left) for each in counts] == [(20, 18), (18, 7)]
    assert counts[1].to_utc == datetime(2026, 3, 2, 16, 10, tzinfo=UTC)


def test_a_note_that_leaves_more_in_the_tin_than_was_there_is_told_and_the_rest_of_it_lands(home, tmp_path):
    typed(home, "count", "school tin", "--filled", "20", "--left", "5", "--from", "07:00", "--to", "08:00")
    status, told, _ = note(home, tmp_path, "10:40 3 pieces\n16:10 school tin: 7 left\n")
    assert status == 1
    assert "refilled" in told
    with Store.open(home) as store:
        assert len(store.supplies.counts("mia")) == 1
        assert store.inputs("mia").doses.height == 1


def test_a_tin_that_was_never_counted_is_asked_about_as_before(home, tmp_path):
    note(home, tmp_path, "16:10 sports bag: 7 left\n")
    with Store.open(home) as store:
        assert store.supplies.counts("mia") == []
        assert store.inputs("mia").doses["amount"].drop_nulls().to_list() == []


def test_a_tin_whose_name_lacks_a_letter_is_asked_about_and_a_numbered_one_is_another(home):
    assert typed(home, *COUNT)[0] == 0
    _, _, refused = typed(home, "count", "scool tin", "--filled", "20", "--left", "13")
    assert "one is called 'school tin'" in str(refused)
    assert typed(home, "count", "school tin 2", "--filled", "20", "--left", "20", "--from", "07:00")[0] == 0


def test_pieces_gone_in_hours_without_readings_are_not_said_to_be_of_no_turn(home):
    hours = ("--from", "2026-03-01 07:00", "--to", "2026-03-01 12:00")
    assert typed(home, "count", "school tin", "--filled", "20", "--left", "13", *hours)[0] == 0
    told = typed(home, "counts")[1]
    assert "no readings in these hours" in told
    assert "at a turn" not in told


@pytest.mark.parametrize(
    ("said", "answered"), [("count_right\ny\n", 2), ("count_right\nn\n\n", 1), ("refilled\n\n", 1)]
)
def test_that_pieces_come_from_elsewhere_too_may_be_said_once_for_every_count_of_a_tin(home, said, answered):
    """The tin of the school, and the same tablets at home: each day's count asked the very same again."""
    for hour in ("08:55", "12:55"):
        typed(home, "give", "5", "pieces", "--at", hour)
    typed(home, "count", "school tin", "--filled", "20", "--left", "19", "--from", "07:00", "--to", "11:00")
    typed(home, "count", "school tin", "--left", "17", "--to", "15:00")
    assert f"{answered} answered" in typed(home, "ask", said=said)[1]
