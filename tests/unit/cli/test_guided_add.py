"""Adding a person at a terminal asks for what was not typed; in a script nothing is asked and nothing is guessed."""

import os
import pty
import signal
import sys
import time
from contextlib import suppress
from datetime import date
from select import select

import pytest
from typer.testing import CliRunner

from gramrise.cli import guided_add
from gramrise.cli.context import Household
from gramrise.cli.main import app
from gramrise.nightly import Night
from gramrise.nightly.mail.delivery import Delivered
from gramrise.report import screen_words
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
    assert (said.count("To mend"), said.count("Abhilfe")) == (1, 4)  # the first before any language was typed


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


@pytest.mark.parametrize("named", ["Deutsch", "german", "DE"])
def test_every_refusal_is_in_the_language_typed_first_also_where_nobody_is_known(capsys, named):
    told = guided_add.ask_for(guided_add.Told("", ""), TODAY, answering(
        named, "2.4.2091", "31.02.2016", "14.3.2016", "Berlin", "Europe/Berlin", "", "three", "900", "", "21,5", "",
        "Mama 0170 1", "", "mama", "",
    ))  # fmt: skip
    assert told.language == "de"
    said = capsys.readouterr().out
    assert said.count("Abhilfe") == 7
    assert "To mend" not in said


@pytest.mark.parametrize(("named", "language"), [("English", "en"), ("", "en"), ("englisch", "en")])
def test_english_may_be_named_too_and_is_spoken_where_nothing_was(named, language):
    answers = answering(named, "2016-03-14", "Europe/Berlin", "", "", "", "", "")
    assert guided_add.ask_for(guided_add.Told("", ""), TODAY, answers).language == language


def test_a_contact_without_a_number_is_kept_and_told_of_at_once(capsys):
    answers = ("de", "14.3.2016", "Europe/Berlin", "", "", "", "mama2@example.org", "Oma 0171 2", "", "")
    told = guided_add.ask_for(guided_add.Told("", ""), TODAY, answering(*answers))
    assert told.contacts == ("mama2@example.org", "Oma 0171 2")
    said = capsys.readouterr().out
    assert "mama2@example.org: Darin steht keine Nummer." in said
    assert "Oma" not in said


@pytest.mark.skipif(sys.platform == "win32", reason="a pseudo terminal")
def test_control_c_ends_the_questions_also_after_a_date_was_refused(tmp_path):
    """A refused date loads a library that had the system go on reading after the signal: it was heard by nobody."""
    person, terminal = pty.fork()
    if person == 0:
        os.execv(sys.executable, [sys.executable, "-m", "gramrise", "--home", str(tmp_path), "person", "add", "mio"])
    try:
        for shown, typed_in in (("Enter: en: ", "de\n"), ("2.4.2016: ", "x\n"), ("2.4.2016: ", "")):
            assert shown in shown_until(terminal, shown)
            os.write(terminal, typed_in.encode())
        assert ended(person, terminal) == 130
    finally:
        os.close(terminal)


def shown_until(terminal, text, most_s=60):
    """What the terminal shows until a text stands there."""
    shown, last = "", time.monotonic() + most_s
    while not shown.endswith(text) and time.monotonic() < last:
        if select([terminal], [], [], 0.1)[0]:
            shown += os.read(terminal, 4096).decode()
    return shown


def ended(person, terminal, most_s=20):
    """The exit status of a command at Ctrl-C, pressed again each second as a hand would; else it is killed.

    Between the words of a prompt and the wait for a line a signal is heard by no read: the next one is.
    """
    last, pressed = time.monotonic() + most_s, 0.0
    while time.monotonic() < last:
        if time.monotonic() - pressed > 1:
            pressed = time.monotonic()
            with suppress(OSError):  # it is gone already
                os.write(terminal, b"\x03")
        gone, status = os.waitpid(person, os.WNOHANG)
        if gone:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.05)
    os.kill(person, signal.SIGKILL)
    os.waitpid(person, 0)
    return None


def test_recipients_that_stand_already_are_never_overwritten(tmp_path):
    (tmp_path / "gramrise.toml").write_text("[nightly.recipients]\nben = []\n", "utf-8")
    told = guided_add.name_recipient(Household(tmp_path), "mia", "mama@example.org", screen_words("en"))
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


def test_a_look_that_only_sends_letters_says_so(tmp_path, monkeypatch):
    """A server was down, the next look handed five letters over and said that nothing was due."""
    sent = Night(delivered=Delivered(sent=5))
    monkeypatch.setattr("gramrise.nightly.run_schedule", lambda _home, tell, **_once: tell(sent) or 0)
    assert "mails sent: 5, waiting: 0" in typed(tmp_path, "schedule", "--once").output
