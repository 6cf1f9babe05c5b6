"""Adding a person at a terminal asks for what was not typed; in a script nothing is asked and nothing is guessed."""

from datetime import date

import pytest
from typer.testing import CliRunner

from gramrise.cli import guided_add
from gramrise.cli.context import Household
from gramrise.cli.main import app
from gramrise.store import Store

TODAY = date(2026, 3, 14)


def typed(home, *words):
    return CliRunner().invoke(app, ["--home", str(home), *words])


def answering(*answers):
    left = iter(answers)
    return lambda _question: next(left)


def test_what_is_missing_is_asked_for_and_asked_again_where_it_cannot_be_meant(capsys):
    told = guided_add.ask_for(guided_add.Told("", ""), TODAY, answering(
        "fr", "de", "14.13.2016", "14.3.2016", "CET", "Europe/Berlin", "Mia", "three", "31,5", "mmol/L",
        "Mama 0170 1", "", "mama", "mama@example.org",
    ))  # fmt: skip
    assert told == guided_add.Told(
        "14.3.2016", "Europe/Berlin", "31,5", "mmol/L", "Mia", "de", ("Mama 0170 1",), "mama@example.org"
    )
    said = capsys.readouterr().out
    assert said.count("To mend") == 5


def test_at_a_terminal_name_contacts_plan_and_recipients_are_led_to(tmp_path, monkeypatch):
    answers = answering("", "2016-03-14", "Europe/Berlin", "Mia", "31.5", "", "Mama 0170 1", "", "mama@example.org")
    monkeypatch.setattr(guided_add, "somebody_types", lambda: True)
    monkeypatch.setattr(guided_add, "read_line", answers)
    told = typed(tmp_path, "person", "add", "mia")
    assert told.exit_code == 0, told.output
    assert "person plan mia --sheet" in " ".join(told.output.split())
    with Store.open(tmp_path) as store:
        person = store.person("mia")
        assert (person.name, person.weights_kg.latest()) == ("Mia", 31.5)
        assert person.care_plan.latest().contacts == ("Mama 0170 1",)
    assert "mia = [" in (tmp_path / "gramrise.toml").read_text("utf-8")
    assert typed(tmp_path, "check").exit_code == 0


@pytest.mark.parametrize(("weight", "kg"), [("69.5 lb", 31.52), ("69,5lbs", 31.52), ("31.5 kg", 31.5), ("31,5", 31.5)])
def test_a_weight_at_the_terminal_takes_its_unit(tmp_path, monkeypatch, weight, kg):
    answers = answering("", "2016-03-14", "Europe/Berlin", "Mia", weight, "", "Mama 0170 1", "", "mama@example.org")
    monkeypatch.setattr(guided_add, "somebody_types", lambda: True)
    monkeypatch.setattr(guided_add, "read_line", answers)
    assert typed(tmp_path, "person", "add", "mia").exit_code == 0
    with Store.open(tmp_path) as store:
        assert store.person("mia").weights_kg.latest() == pytest.approx(kg, abs=0.01)


def test_the_questions_are_put_in_the_language_that_was_chosen_first():
    asked = []
    answers = iter(("de", "14.3.2016", "Europe/Berlin", "", "", "", "", ""))

    def ask(question):
        asked.append(question)
        return next(answers)

    guided_add.ask_for(guided_add.Told("", ""), TODAY, ask)
    assert asked[1].startswith("Geburtsdatum")
    assert len(asked) == 8


def test_recipients_that_stand_already_are_never_overwritten(tmp_path):
    (tmp_path / "gramrise.toml").write_text("[nightly.recipients]\nben = []\n", "utf-8")
    told = guided_add.name_recipient(Household(tmp_path), "mia", "mama@example.org")
    assert "add under [nightly.recipients]" in told
    assert (tmp_path / "gramrise.toml").read_text("utf-8") == "[nightly.recipients]\nben = []\n"


@pytest.mark.parametrize("missing", ["--born", "--zone"])
def test_a_script_is_told_what_is_missing(tmp_path, missing):
    given = {"--born": "2016-03-14", "--zone": "Europe/Berlin"}
    del given[missing]
    told = typed(tmp_path, "person", "add", "mia", *[word for pair in given.items() for word in pair])
    assert told.exit_code == 2
    assert missing in told.output


@pytest.mark.parametrize("words", [("--weight-kg", "31,5"), ("--weight-kg", "31.5")])
def test_a_decimal_comma_is_a_decimal_point(tmp_path, words):
    typed(tmp_path, "person", "add", "mia", "--born", "2016-03-14", "--zone", "Europe/Berlin", *words)
    with Store.open(tmp_path) as store:
        assert store.person("mia").weights_kg.latest() == 31.5


def test_a_pass_of_the_schedule_says_what_it_did_also_where_nothing_was_due(tmp_path):
    typed(tmp_path, "person", "add", "mia", "--born", "2016-03-14", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
    assert typed(tmp_path, "schedule", "--once").output.strip()
    assert "Nothing was due." in typed(tmp_path, "schedule", "--once").output
