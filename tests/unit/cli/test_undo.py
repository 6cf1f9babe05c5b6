"""Every slip can be taken back, whole, by its number; nothing else changes; twice is harmless."""

import re
from datetime import UTC, datetime

import pytest
from typer.testing import CliRunner

from gramrise.cli.context import Household
from gramrise.cli.main import app
from gramrise.domain.problems import WrongUse
from gramrise.domain.questions import Question
from gramrise.nightly import answers_offered
from gramrise.place import count_key
from gramrise.store import Store

NOW = datetime(2026, 3, 14, 8, tzinfo=UTC)


def typed(home, *words):
    return CliRunner().invoke(app, ["--home", str(home), *words])


@pytest.fixture(autouse=True)
def _broad_day(monkeypatch):
    """Late in the morning in Berlin, so that a time of the night that is typed was today whenever the tests run."""
    monkeypatch.setattr(Household, "now_utc", lambda _: datetime(2026, 11, 27, 10, tzinfo=UTC))


@pytest.fixture
def home(tmp_path):
    typed(tmp_path, "person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
    typed(tmp_path, "person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "1")
    return tmp_path


def supplies(home):
    with Store.open(home) as store:
        kept = store.supplies
        return kept.batches("mia"), kept.counts("mia"), kept.stock_counts("mia"), store.person("mia").sources


def facts(home):
    with Store.open(home) as store:
        asked = [(each.question.key, each.answer) for each in store.questions("mia")]
        inputs = store.inputs("mia")
        return store.person("mia"), inputs.doses.rows(), inputs.readings.rows(), inputs.events.rows(), asked


def latest(home):
    """The number of the last change, as the list shows it."""
    rows = re.findall(r"^\s*(\d+)\s", typed(home, "undo").output, re.MULTILINE)
    return rows[0]


SLIPS = {
    "glucose given": ("give", "3 pieces, felt low, and toast", "--at", "0:10"),
    "a doubted weighing": ("person", "weigh", "mia", "69"),
    "a weighing": ("person", "weigh", "mia", "32.5"),
    "a name": ("person", "set", "mia", "--name", "Mia"),
    "a zone": ("person", "set", "mia", "--zone", "Europe/Paris", "--from", "2026-01-01"),
    "a target": ("person", "set", "mia", "--target-mg-dl", "110"),
    "bands": ("person", "set", "mia", "--band", "day=06:00-22:00", "--band", "night=22:00-06:00"),
    "a care plan": ("person", "plan", "mia", "--standard-grams", "9", "--below-54-grams", "12"),
    "a source": ("person", "source", "mia", "gel", "--form", "gel", "--grams-per-piece", "15", "--meant"),
    "a birth date": ("person", "set", "mia", "--born", "2015-04-02"),
    "a source gone": ("person", "source", "mia", "candy", "--gone"),
}


@pytest.mark.parametrize("slip", SLIPS.values(), ids=SLIPS)
def test_a_slip_is_taken_back_whole_and_twice_is_harmless(home, slip):
    typed(home, "give", "2 pieces", "--at", "0:05")
    before = facts(home)
    assert typed(home, *slip).exit_code in {0, 1}
    assert facts(home) != before
    number = latest(home)
    told = typed(home, "undo", number)
    assert told.exit_code == 0, told.output
    assert "taken back" in told.output
    assert facts(home) == before
    again = typed(home, "undo", number)
    assert again.exit_code == 0
    assert "nothing changed" in again.output
    assert facts(home) == before


MIXED = ("mix", "bottle", "--powder", "anhydrous", "--powder-g", "25", "--made-up-to", "100", "--done")
OF_SUPPLIES = {
    "a count": (("count", "tin", "--filled", "20", "--left", "13", "--from", "0:00"),),
    "a count made again": (
        ("count", "tin", "--filled", "20", "--left", "13", "--from", "0:00", "--to", "0:01"),
        ("count", "tin", "--filled", "20", "--left", "12", "--from", "0:00", "--to", "0:01"),
    ),
    "what is on hand": (("stock", "candy", "--on-hand", "45"),),
    "a batch": (MIXED,),
    "a batch corrected": (MIXED, ("mix", "--correct", "1", "--powder", "monohydrate")),
}


@pytest.mark.parametrize("slips", OF_SUPPLIES.values(), ids=OF_SUPPLIES)
def test_a_slip_in_counts_and_batches_is_taken_back_whole(home, slips):
    for slip in slips[:-1]:
        assert typed(home, *slip).exit_code == 0
    before = supplies(home)
    done = typed(home, *slips[-1])
    assert done.exit_code == 0, done.output
    assert supplies(home) != before
    number = latest(home)
    assert "taken back" in typed(home, "undo", number).output
    assert supplies(home) == before
    assert "nothing changed" in typed(home, "undo", number).output


def test_what_was_taken_from_a_batch_has_its_grams_of_before_once_its_correction_is_taken_back(home):
    typed(home, *MIXED, "--at", "0:00")
    typed(home, "give", "10 mL bottle", "--at", "0:05")
    grams = []
    for words in (("mix", "--correct", "1", "--powder", "monohydrate"), ("undo", "5")):
        with Store.open(home) as store:
            grams.append(store.inputs("mia").doses["grams"].to_list())
        assert typed(home, *words).exit_code == 0, typed(home, "undo").output
    with Store.open(home) as store:
        assert store.inputs("mia").doses["grams"].to_list() == grams[0] != grams[1]


def test_a_table_of_counts_is_one_change_and_taken_back_whole(home, tmp_path):
    table = tmp_path / "counts.csv"
    rows = ("2026-03-02 07:30,2026-03-02 13:00,20,13", "2026-03-03 07:30,2026-03-03 13:00,20,15")
    table.write_text("container,source,from,to,filled,left\n" + "".join(f"tin,candy,{row}\n" for row in rows))
    before = supplies(home)
    assert "2 new" in typed(home, "import", str(table)).output
    taken = supplies(home)
    assert len(taken[1]) == 2
    assert "counts.csv (2 rows)" in " ".join(typed(home, "undo").output.split())
    typed(home, "undo", latest(home))
    assert supplies(home) == before
    assert "2 new" in typed(home, "import", str(table)).output
    assert supplies(home) == taken


def test_the_list_names_the_source_that_was_changed(home):
    typed(home, "person", "source", "mia", "gel", "--form", "gel", "--grams-per-piece", "15", "--meant")
    told = " ".join(typed(home, "undo").output.split())
    assert "source gel 15.00 g set from" in told
    assert "source candy 1.00 g set from" in told
    typed(home, "person", "source", "mia", "night bottle", "--form", "liquid", "--grams-per-ml", "0.25")
    assert "night bottle 0.25 g/mL" in " ".join(typed(home, "undo").output.split())
    typed(home, "person", "source", "mia", "gel", "--gone", "--from", "2026-01-05")
    assert "source gel from 05 Jan 2026 taken out" in " ".join(typed(home, "undo").output.split())


def test_the_list_tells_what_a_fact_was_and_is(home):
    typed(home, "person", "set", "mia", "--born", "2016-02-04")
    typed(home, "person", "plan", "mia", "--standard-grams", "9", "--contact", "Mama 1")
    typed(home, "person", "plan", "mia", "--standard-grams", "3")
    told = " ".join(typed(home, "undo").output.split())
    assert "birth date set: 04 Feb 2016, before 02 Apr 2016" in told
    assert "standard grams 3, before 9" in told
    assert "standard grams 9, contacts Mama 1" in told


def test_one_line_of_the_plan_goes_back_whatever_lines_were_written_after_it(home):
    typed(home, "person", "plan", "mia", "--standard-grams", "9", "--second-grams", "5")
    typed(home, "person", "plan", "mia", "--standard-grams", "3")
    slip = latest(home)
    typed(home, "person", "plan", "mia", "--second-grams", "6", "--contact", "Mama 1")
    assert typed(home, "undo", slip).exit_code == 0
    with Store.open(home) as store:
        plan = store.person("mia").care_plan.latest()
    assert (plan.standard_grams, plan.second_grams, plan.contacts) == (9.0, 6.0, ("Mama 1",))
    typed(home, "person", "plan", "mia", "--standard-grams", "4")
    third = latest(home)
    typed(home, "person", "plan", "mia", "--standard-grams", "5")
    assert "changed again since" in str(typed(home, "undo", third).exception)


def test_the_list_speaks_the_persons_language(home):
    typed(home, "give", "3 pieces", "--at", "0:10")
    typed(home, "person", "set", "mia", "--language", "de")
    told = " ".join(typed(home, "undo").output.split())
    assert "Die letzten Änderungen" in told
    assert "gegeben: 3 Stück candy" in told


def test_a_file_taken_back_can_be_imported_again(home, tmp_path):
    file = tmp_path / "readings.csv"
    rows = "\n".join(f"2026-03-14 0{i // 12}:{5 * (i % 12):02d},{100 + i % 7}" for i in range(100))
    file.write_text(f"time,glucose (mg/dL)\n{rows}\n")
    before = facts(home)
    assert typed(home, "import", str(file)).exit_code == 0
    imported = facts(home)
    assert imported != before
    assert "imported again" in typed(home, "undo", latest(home)).output
    assert facts(home) == before
    assert "100 new" in typed(home, "import", str(file)).output
    assert facts(home) == imported


def test_one_answer_for_several_questions_is_one_change(home):
    typed(home, "give", "3", "--at", "0:10")
    typed(home, "give", "4", "--at", "0:20")
    before = facts(home)
    now = datetime(2026, 3, 14, tzinfo=UTC)
    with Store.open(home) as store:
        for asked in store.questions("mia"):
            store.answer(asked.question_id, "piece:candy", "terminal", now)
    assert facts(home) != before
    assert "2 questions" in typed(home, "undo").output
    typed(home, "undo", latest(home))
    assert facts(home) == before


def test_a_fact_changed_again_since_is_not_taken_back_beneath_the_later_one(home):
    typed(home, "person", "set", "mia", "--name", "Mia")
    number = latest(home)
    typed(home, "person", "set", "mia", "--name", "Maria")
    told = typed(home, "undo", number)
    assert isinstance(told.exception, WrongUse)
    assert "changed again since" in str(told.exception)


def test_a_number_there_is_not_says_where_the_numbers_are(home):
    assert "undo lists" in str(typed(home, "undo", "77").exception)
    assert "undo lists" in str(typed(home, "undo", "it").exception)


def test_a_count_whose_answer_logs_glucose_is_taken_back_after_the_answer(home):
    """Else the pieces would stay in the log for a count that never was."""
    now = datetime.now(UTC)
    typed(home, "count", "tin", "--filled", "20", "--left", "13", "--from", "0:00")
    with Store.open(home) as store:
        made = store.supplies.counts("mia")[0]
        told = f"taken:3@{made.from_utc.isoformat()}"
        about = {
            "taken_at_utc": made.from_utc.isoformat(), "text": "tin", "source": "candy", "form": "tablet",
            "grams_per_piece": 1.0,
        }  # fmt: skip
        asked = Question("mia", "gone_from_container", count_key(made), "Where?", (told, "unknown"), about)
        store.supplies.ask("mia", [asked], now)
        store.answer(store.questions("mia")[0].question_id, told, "test", now)
        assert store.inputs("mia").doses["amount"].to_list() == [3.0]
        answer, count = [each.change_id for each in store.last_changes("mia", 2)]
    refused = typed(home, "undo", str(count)).exception
    assert isinstance(refused, WrongUse)
    assert "take that answer back first" in str(refused)
    assert typed(home, "undo", str(answer)).exit_code == 0
    assert typed(home, "undo", str(count)).exit_code == 0
    with Store.open(home) as store:
        assert store.inputs("mia").doses.height == 0
        assert store.supplies.counts("mia") == []


def test_a_change_of_another_child_is_not_taken_back_by_a_mistyped_number(home):
    typed(home, "person", "add", "tom", "--born", "2019-04-02", "--zone", "Europe/Berlin", "--weight-kg", "20")
    typed(home, "give", "3 pieces", "--person", "mia", "--at", "2026-01-05 01:00")
    number = latest(home)
    refused = typed(home, "undo", str(number), "--person", "tom")
    assert "is mia's, not tom's" in str(refused.exception)
    assert typed(home, "undo", str(number), "--person", "mia").exit_code == 0


def test_glucose_logged_twice_in_other_words_is_one_fact_and_goes_with_either_number(home):
    for first in (True, False):
        typed(home, "give", "3 candy", "--at", "0:10")
        assert "logged already" in typed(home, "give", "3 pieces", "--at", "0:10").output
        number = int(latest(home)) - first
        assert "taken back" in typed(home, "undo", str(number)).output
        assert facts(home)[1] == []
        assert "nothing changed" in typed(home, "undo", latest(home)).output


def test_what_a_file_states_too_stays_and_undo_says_which(home, tmp_path):
    typed(home, "give", "3 candy", "--at", "2026-03-02 02:10")
    (tmp_path / "note.txt").write_text("2026-03-02 02:10 3 candy\n")
    assert "1 known already" in typed(home, "import", str(tmp_path / "note.txt")).output
    assert "note.txt (nothing new)" in " ".join(typed(home, "undo").output.split())
    number = int(latest(home))
    told = " ".join(typed(home, "undo", str(number - 1)).output.split())
    assert f"What change {number} states, too, stays" in told
    assert f"gramrise undo {number}." in told
    assert len(facts(home)[1]) == 1
    assert "stays" not in typed(home, "undo", str(number)).output
    assert facts(home)[1] == []


def test_a_source_is_taken_back_whatever_other_sources_were_stated_since(home):
    typed(home, "person", "source", "mia", "gel", "--form", "gel", "--grams-per-ml", "0.4")
    number = int(latest(home))
    juice = ("person", "source", "mia", "juice", "--form", "liquid", "--grams-per-ml")
    typed(home, *juice, "0.1")
    typed(home, *juice, "0.11", "--from", "2026-01-05")
    assert [len(sources) for _, sources in supplies(home)[3].entries] == [3, 3]
    assert "taken back" in typed(home, "undo", str(number)).output
    assert [[each.name for each in sources] for _, sources in supplies(home)[3].entries] == [["candy", "juice"]] * 2
    typed(home, "undo", str(number + 1))
    strengths = [[each.grams_per_ml for each in sources] for _, sources in supplies(home)[3].entries]
    assert strengths == [[None], [None, 0.11]]


def test_a_source_stated_again_since_is_taken_back_in_its_order(home):
    typed(home, "person", "source", "mia", "gel", "--form", "gel", "--grams-per-ml", "0.4")
    typed(home, "person", "source", "mia", "gel", "--form", "gel", "--grams-per-ml", "0.5", "--meant")
    number = int(latest(home))
    before = facts(home)
    assert "changed again since" in str(typed(home, "undo", str(number - 1)).exception)
    assert facts(home) == before
    typed(home, "undo", str(number))
    assert "taken back" in typed(home, "undo", str(number - 1)).output
    assert [[each.name for each in sources] for _, sources in supplies(home)[3].entries] == [["candy"]]


def test_a_source_taken_back_is_offered_no_more_and_what_was_answered_with_it_is_asked_again(home):
    typed(home, "person", "source", "mia", "drop", "--form", "tablet", "--grams-per-piece", "2")
    number = latest(home)
    typed(home, "give", "3 drop", "--at", "0:10")
    typed(home, "give", "4 glucose", "--at", "0:20")
    with Store.open(home) as store:
        (asked,) = store.questions("mia")
        assert "piece:drop" in asked.question.answers
        store.answer(asked.question_id, "piece:drop", "Mama", NOW)
        assert sorted(store.inputs("mia").doses["grams"]) == [6.0, 8.0]
    told = " ".join(typed(home, "undo", number).output.split())
    assert "1 amount is logged of 'drop', which is not stated" in told
    assert "'drop', which is not stated" in " ".join(typed(home, "check").output.split())
    with Store.open(home) as store:
        assert store.inputs("mia").doses["grams"].to_list() == [None, None]
        (asked,) = store.questions("mia")
        assert "piece:drop" not in answers_offered(asked.question, store.person("mia"))
        with pytest.raises(WrongUse, match="none of the answers"):
            store.answer(asked.question_id, "piece:drop", "Mama", NOW)
    typed(home, "person", "source", "mia", "drop", "--form", "tablet", "--grams-per-piece", "1")
    with Store.open(home) as store:
        assert store.inputs("mia").doses["grams"].to_list() == [3.0, None]
        assert "piece:drop" in answers_offered(asked.question, store.person("mia"))


def listed(home):
    return " ".join(typed(home, "undo").output.split())


def test_the_list_names_every_line_of_the_plan_those_for_school_and_those_taken_out_too(home):
    typed(home, "person", "set", "mia", "--language", "de")
    plan = ("person", "plan", "mia")
    school = {
        "--school-grams": "8", "--school-year-from": "2026-08-24", "--school-year-until": "2027-07-20",
        "--authorised-by-parent": "Svenja", "--authorised-on": "2026-11-03", "--staff": "Frau Kühn",
        "--kit": "Beutel", "--kit-expires": "2027-06-30",
    }  # fmt: skip
    for option, value in school.items():
        assert typed(home, *plan, option, value).exit_code == 0
        words = {"2026-08-24": "24.08.2026", "2027-07-20": "20.07.2027", "2026-11-03": "03.11.2026"}
        told = words.get(value, "30.06.2027" if option == "--kit-expires" else value)
        row = typed(home, "undo").output.split("jonna")[0]
        assert f" {told}" in " ".join(row.split())
    typed(home, *plan, "--staff", "Frau Kuhn")
    assert "Schule: eingewiesenes Personal Frau Kuhn, vorher Frau Kühn" in listed(home)
    typed(home, *plan, "--kit-expires", "2026-06-30")
    assert "Schule: Notfalltasche haltbar bis 30.06.2026, vorher 30.06.2027" in listed(home)
    typed(home, *plan, "--kit", "")
    assert "Schule: Notfalltasche nichts, vorher Beutel" in listed(home)


def test_a_source_stated_once_for_several_days_is_named_once_with_what_it_was(home):
    typed(home, "person", "source", "mia", "gel", "--form", "gel", "--grams-per-ml", "0.4", "--from", "2026-01-05")
    drop = ("person", "source", "mia", "drop", "--form", "tablet", "--grams-per-piece")
    typed(home, *drop, "4", "--stated-as", "monohydrate")
    assert listed(home).count("source drop") == 1
    assert "source drop 4.00 g monohydrate set from 02 Apr 2016" in listed(home)
    typed(home, *drop, "5", "--meant")
    assert "source drop 5.00 g set from 02 Apr 2016, before 4.00 g monohydrate" in listed(home)


def test_an_amount_that_is_asked_about_stands_in_the_list_as_it_was_typed(home):
    typed(home, "person", "source", "mia", "gel", "--form", "gel", "--grams-per-ml", "0.4")
    assert typed(home, "give", "90 ml gel", "--at", "0:10").exit_code == 1
    assert "glucose given: '90 ml gel' at Fri 27 Nov 2026 00:10" in listed(home)
    assert "taken back: glucose given: '90 ml gel'" in " ".join(typed(home, "undo", latest(home)).output.split())


def test_glucose_given_is_not_called_by_the_name_of_the_candy(home):
    typed(home, "person", "source", "mia", "Gel", "--form", "gel", "--grams-per-piece", "10")
    typed(home, "person", "set", "mia", "--language", "de")
    typed(home, "give", "0,5 Stück Gel", "--at", "0:10")
    assert "gegeben: 0,5 Stück Gel" in listed(home)
    assert "Traubenzucker: 0,5" not in listed(home)


def test_a_fact_of_a_closed_list_and_the_time_bands_are_told_in_the_persons_language(home):
    bands = ("--band", "Tag=06:00-22:00", "--band", "Nacht=22:00-06:00")
    typed(home, "person", "set", "mia", "--language", "de", "--sex", "girl", "--delivery", "pump", *bands)
    assert "Geschlecht gesetzt: Mädchen" in listed(home)
    assert "Insulingabe gesetzt ab 27.11.2026: Pumpe" in listed(home)
    assert "Tageszeiten gesetzt ab 27.11.2026: Tag 06:00-22:00 + Nacht 22:00-06:00" in listed(home)


def test_the_usual_time_bands_are_told_by_their_german_names(home):
    bands = ("--band", "daytime=06:00-22:00", "--band", "overnight=22:00-06:00")
    typed(home, "person", "set", "mia", "--language", "de", *bands)
    assert "Tageszeiten gesetzt ab 27.11.2026: tagsüber 06:00-22:00 + nachts 22:00-06:00" in listed(home)


def test_the_question_of_an_answer_is_told_in_german_too(home):
    typed(home, "person", "set", "mia", "--language", "de")
    typed(home, "give", "3", "--at", "0:10")
    with Store.open(home) as store:
        (asked,) = store.questions("mia")
        store.answer(asked.question_id, "piece:candy", "Mama", NOW)
    assert "Antwort „Stück von candy“ auf: „3“, Fr 27.11.2026 00:10: 3 wovon? Stück, ml oder Gramm" in listed(home)


def test_older_changes_than_a_screen_shows_are_told_and_listed(home):
    for minute in range(10, 28):
        typed(home, "give", "1 piece", "--at", f"0:{minute}")
    told = typed(home, "undo").output
    assert "There are older ones: gramrise undo --last 30" in told
    whole = typed(home, "undo", "--last", "30").output
    assert "older" not in whole
    assert whole.count("glucose given") == 18
