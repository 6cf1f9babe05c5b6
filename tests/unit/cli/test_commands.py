"""Commands as people type them: help, exit status, errors that say how to mend, words on the screen."""

import json
import re
import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from typer.main import get_command
from typer.testing import CliRunner

from gramrise.cli.main import app, exit_status, run
from gramrise.cli.sentences import reason_words
from gramrise.domain.person import Dated
from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.domain.words import Outcome, State, TreatmentClass
from gramrise.intake import instant_meant
from gramrise.report import outcome_words, screen_words
from gramrise.store import Store

README = (Path(__file__).resolve().parents[3] / "README.md").read_text("utf-8")
COMMANDS = sorted(get_command(app).commands)
ENGLISH = screen_words("en")
IN_BERLIN = Dated(((date(2016, 1, 1), ZoneInfo("Europe/Berlin")),))


def typed(*words, home):
    return CliRunner().invoke(app, ["--home", str(home), *words])


def exits(monkeypatch, capsys, *words):
    """Exit status and stderr of the installed command."""
    monkeypatch.setattr("sys.argv", ["gramrise", *words])
    with pytest.raises(SystemExit) as stopped:
        run()
    return stopped.value.code or 0, " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_stands_in_the_readme(command):
    assert f"gramrise {command}" in README or f", {command}" in README


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself_within_80_columns(command):
    told = CliRunner().invoke(app, [command, "--help"])
    assert told.exit_code == 0
    assert max(len(line) for line in told.output.splitlines()) <= 80


def test_a_person_without_a_zone_is_refused(tmp_path):
    assert typed("person", "add", "mia", "--born", "2016-04-02", home=tmp_path).exit_code == 2


def test_the_first_day_person_source_weight_list(tmp_path):
    added = typed(
        "person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5", home=tmp_path
    )
    assert added.exit_code == 0, added.output
    source = typed(
        "person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "1",
        "--stated-as", "monohydrate", home=tmp_path,
    )  # fmt: skip
    assert "0.909 g of glucose per piece" in source.output
    assert typed("person", "weigh", "mia", "71.5lb", home=tmp_path).output.startswith("mia: 32.4 kg")
    assert typed("person", "weigh", "mia", "70 lbs", home=tmp_path).output.startswith("mia: 31.8 kg")
    listed = typed("person", "list", home=tmp_path).output
    assert "mia" in listed
    assert "31.8 " in listed
    assert "candy" in listed


def test_with_no_data_the_number_is_the_weight_tables(tmp_path):
    typed(
        "person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.75", home=tmp_path
    )
    told = typed("factors", home=tmp_path)
    assert told.exit_code == 0, told.output
    assert told.output.count("10.0") >= 2  # 317.5 / 31.75, in each band
    assert "thin" in told.output


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("person", "add", "x y", "--born", "2016-04-02", "--zone", "Europe/Berlin"), 2, "cannot be an ID"),
        (("person", "add", "x", "--born", "4/2/2016", "--zone", "Europe/Berlin"), 2, "write 2026-03-09"),
        (("person", "add", "x", "--born", "2016-04-02", "--zone", "CST"), 2, "write it as Europe/Berlin"),
        (("person", "add", "x", "--born", "2116-04-02", "--zone", "Europe/Berlin"), 2, "has not been yet"),
        (("person", "add", "x", "--born", "1816-04-02", "--zone", "Europe/Berlin"), 2, "look at the year"),
        (("lows",), 2, "nobody is known yet"),
        (("lows", "--person", "nobody"), 2, "no person 'nobody'"),
        (("schema", "meals"), 2, "no document is called"),
    ],
)
def test_a_wrong_use_says_what_and_how_to_mend(monkeypatch, capsys, tmp_path, words, status, said):
    code, told = exits(monkeypatch, capsys, "--home", str(tmp_path), *words)
    assert code == status
    assert said in told
    assert "To mend:" in told


def test_a_weight_that_does_not_go_with_the_child_is_told_when_it_is_typed(tmp_path):
    born = ("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin")
    added = typed(*born, "--weight-kg", "71", home=tmp_path)  # pounds
    assert added.exit_code == 1
    assert "pounds (32.2 kg)" in " ".join(added.stderr.split())
    assert typed("person", "weigh", "mia", "71lb", home=tmp_path).exit_code == 0
    assert typed("person", "weigh", "mia", "32.5", home=tmp_path).exit_code == 0
    assert typed("person", "weigh", "mia", "3.25", home=tmp_path).exit_code == 1


def test_what_is_set_is_named_in_words(tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=tmp_path)
    told = typed(
        "person", "set", "mia", "--log-complete", "--target-mg-dl", "110", "--from", "2026-03-01", home=tmp_path
    )
    assert "target, whether the log is complete set from 01 Mar 2026." in " ".join(told.output.split())


def test_a_night_that_sets_a_thousand_rows_aside_names_a_screen_of_them(tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=tmp_path)
    (tmp_path / "gramrise.toml").write_text("[nightly]\nrest_seconds = 0\n", "utf-8")
    inbox = tmp_path / "inbox" / "mia"
    inbox.mkdir(parents=True)
    rows = [f"2026-03-02 {n // 60:02d}:{n % 60:02d},{99999 if n % 2 else 100}" for n in range(1200)]
    (inbox / "r.csv").write_text("time,glucose (mg/dL)\n" + "\n".join(rows) + "\n", "utf-8")
    done = typed("nightly", home=tmp_path)
    assert done.exit_code == 1
    assert "... and 560 more." in done.stderr
    assert "new rows: 600" in done.stdout


def test_a_source_stated_by_a_slip_is_taken_back(monkeypatch, capsys, tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=tmp_path)
    for name in ("candy", "cnady"):
        typed("person", "source", "mia", name, "--form", "tablet", "--grams-per-piece", "1", home=tmp_path)
    assert typed("person", "source", "mia", "cnady", "--gone", home=tmp_path).exit_code == 0
    assert "cnady" not in typed("person", "list", home=tmp_path).output
    code, told = exits(monkeypatch, capsys, "--home", str(tmp_path), "person", "source", "mia", "gel")
    assert (code, "add --form" in told) == (2, True)


def test_names_are_kept_on_one_line(tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", home=tmp_path)
    typed("person", "source", "mia", " night \n bottle", "--form", "liquid", "--grams-per-ml", "0.25", home=tmp_path)
    assert "night bottle" in typed("person", "list", home=tmp_path).output


def test_no_line_of_an_error_is_wider_than_a_terminal(monkeypatch, capsys, tmp_path):
    monkeypatch.setattr("sys.argv", ["gramrise", "--home", str(tmp_path), "lows"])
    with pytest.raises(SystemExit):
        run()
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) > 1
    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("source", "mia", "bottle", "--form", "liquid", "--grams-per-ml", "15"), "15 g in 60 mL is 0.25"),
        (("source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "400"), "grams of glucose in ONE piece"),
        (("source", "mia", " ", "--form", "tablet", "--grams-per-piece", "4"), "needs a name"),
        (("source", "mia", "tabs", "--form", "tablet", "--grams-per-piece", "4", "--also", ""), "needs a name"),
        (("set", "mia", "--name", "M" * 121), "shorten it"),
        (("set", "mia", "--band", "=07:00-22:00", "--band", "night=22:00-07:00"), "write it as daytime=07:00-22:00"),
        (("plan", "mia", "--below-54-grams", "-3"), "up to 60"),
        (("plan", "mia", "--most-grams", "150"), "up to 60"),
        (("weigh", "mia", "32", "--on", "2126-01-01"), "look at the year"),
        (("set", "mia", "--zone", "America/New_York", "--from", "2126-01-01"), "has not been yet"),
        (
            ("source", "mia", "tabs", "--form", "tablet", "--grams-per-piece", "4", "--from", "2126-01-01"),
            "not been yet",
        ),
    ],
)
def test_a_slip_of_the_pen_in_what_is_known_of_a_person_is_refused(monkeypatch, capsys, tmp_path, words, said):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=tmp_path)
    code, told = exits(monkeypatch, capsys, "--home", str(tmp_path), "person", *words)
    assert (code, said in told) == (2, True), told


def test_exit_status_tells_wrong_use_from_could_not_run():
    assert exit_status(WrongUse("a", "b")) == 2
    assert exit_status(CouldNotRun("a", "b")) == 3


def test_a_clock_time_alone_is_the_latest_such_time_that_has_been():
    now = datetime(2026, 3, 9, 6, 0, tzinfo=UTC)  # 07:00 in Berlin
    assert instant_meant("02:10", IN_BERLIN, now) == datetime(2026, 3, 9, 1, 10, tzinfo=UTC)
    assert instant_meant("23:30", IN_BERLIN, now) == datetime(2026, 3, 8, 22, 30, tzinfo=UTC)
    with pytest.raises(WrongUse, match="has not been yet"):
        instant_meant("2026-03-09 08:00", IN_BERLIN, now)
    with pytest.raises(WrongUse, match="write 02:10"):
        instant_meant("ten past two", IN_BERLIN, now)
    with pytest.raises(WrongUse, match="write 02:10"):
        instant_meant("2026-03-08", IN_BERLIN, now)


def test_in_the_hour_that_comes_twice_a_clock_time_alone_is_the_later_pass_once_it_has_been():
    at_half_past_two_again = datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    assert instant_meant("02:10", IN_BERLIN, at_half_past_two_again) == datetime(2026, 10, 25, 1, 10, tzinfo=UTC)
    assert instant_meant("02:40", IN_BERLIN, at_half_past_two_again) == datetime(2026, 10, 25, 0, 40, tzinfo=UTC)


def test_a_day_and_time_that_came_twice_is_asked_for_with_its_offset():
    now = datetime(2026, 10, 26, 8, 0, tzinfo=UTC)
    with pytest.raises(WrongUse, match=r"02:10\+02:00' or '2026-10-25 02:10\+01:00'"):
        instant_meant("2026-10-25 02:10", IN_BERLIN, now)
    assert instant_meant("2026-10-25 02:10+01:00", IN_BERLIN, now) == datetime(2026, 10, 25, 1, 10, tzinfo=UTC)


@pytest.mark.parametrize("text", ["02:30", "2026-03-29 02:30"])
def test_a_time_over_which_the_clock_was_put_forward_is_refused(text):
    with pytest.raises(WrongUse, match="never was"):
        instant_meant(text, IN_BERLIN, datetime(2026, 3, 29, 6, 0, tzinfo=UTC))


def test_treatments_name_their_band_with_the_hours_it_had_that_day(tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=tmp_path)
    for day, hour in (("01", "06:30"), ("20", "06:30")):
        assert typed("give", "4 g", "--at", f"2026-03-{day} {hour}", home=tmp_path).exit_code == 0
    bands = ("--band", "day=06:00-21:00", "--band", "night=21:00-06:00", "--from", "2026-03-10")
    assert typed("person", "set", "mia", *bands, home=tmp_path).exit_code == 0
    told = typed("treatments", home=tmp_path).output
    assert "overnight 22:00-07:00" in told
    assert "day 06:00-21:00" in told


def test_what_happened_before_a_move_is_read_and_shown_on_the_clock_of_that_time(tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=tmp_path)
    moved = typed(
        "person", "set", "mia", "--zone", "America/New_York", "--name", "M", "--from", "2026-03-01", home=tmp_path
    )
    assert "zone set from 01 Mar 2026" in moved.output
    assert "name set." in moved.output
    typed("give", "4 g", "--at", "2026-02-10 06:10", home=tmp_path)
    note = tmp_path / "night.txt"
    note.write_text("2026-02-11 06:10 5 g\n2026-03-11 06:10 6 g\n", "utf-8")
    assert typed("import", str(note), home=tmp_path).exit_code == 0
    told = json.loads(typed("treatments", "--json", home=tmp_path).stdout)["treatments"]
    hours = {row["grams"]: row["first_dose_utc"][11:16] for row in told}
    assert hours == {4.0: "05:10", 5.0: "05:10", 6.0: "10:10"}
    shown = typed("treatments", home=tmp_path).output
    assert [line.split()[4] for line in shown.splitlines() if "Feb" in line or "Mar" in line] == ["06:10"] * 3
    assert shown.count("overnight 22:00-07:00") == 3


def test_every_outcome_class_and_state_has_its_words():
    assert {outcome.value for outcome in Outcome if outcome_words(outcome.value, 0.5, ENGLISH)} == set(Outcome)
    assert {each for each in TreatmentClass if ENGLISH.has(f"treatments.class.{each}")} == set(TreatmentClass)
    assert {state for state in State if ENGLISH.has(f"state.{state}")} == set(State)
    assert outcome_words("nothing_logged", 0.16, ENGLISH) == "nothing logged (16 % likely that glucose was given)"
    assert reason_words(["gap_in_readings", "insulin_near"], ENGLISH) == ": gap in readings, insulin near"
    assert reason_words([], ENGLISH) == ""


def test_a_file_that_can_be_read_in_two_ways_waits_and_both_are_shown_with_the_line_to_add(tmp_path):
    home = tmp_path / "home"
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", home=home)
    rows = [f"0{1 + n // 24}/02/2026 {n % 24:02d}:00,{100 + n}" for n in range(48)]  # day or month first?
    file = tmp_path / "open.csv"
    file.write_text("time,glucose (mg/dL)\n" + "\n".join(rows[:24]) + "\n", "utf-8")
    done = typed("import", str(file), home=home)
    assert done.exit_code == 1
    told = " ".join(done.stderr.split())
    assert "open.csv" in told
    assert "dmy" in told
    assert "mdy" in told
    assert "gramrise layouts" in told


def test_a_bare_number_is_asked_about_and_grams_can_be_typed_in(tmp_path):
    home = tmp_path / "home"
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=home)
    typed("person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "1", home=home)
    assert typed("give", "3", "--at", "02:10", home=home).exit_code == 1
    shown = CliRunner().invoke(app, ["--home", str(home), "ask"], input="grams\n2,5 g\n")
    assert "pieces of candy" in shown.output
    assert "1 answered" in shown.output
    told = typed("treatments", "--json", home=home)
    assert json.loads(told.stdout)["treatments"][0]["grams"] == 2.5


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a = ", "is not a TOML file"),
        ("low_mg_dl = 65", "nothing is set by 'low_mg_dl'"),
        ("[detct]\nlow_mg_dl = 65", "nothing is set by 'detct'"),
        ("[bands]\nday = '07:00-20:00'", "gramrise person set"),
        ("detect = 3", "'detect' must be a table"),
    ],
)
@pytest.mark.parametrize("command", ["factors", "readings"])
def test_a_slip_in_the_settings_is_told_by_every_command(monkeypatch, capsys, tmp_path, command, text, said):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=tmp_path)
    (tmp_path / "gramrise.toml").write_text(text, "utf-8")
    code, told = exits(monkeypatch, capsys, "--home", str(tmp_path), command)
    assert (code, said in told) == (2, True), told


def test_changed_settings_hold_at_once_for_what_is_shown(tmp_path):
    home = tmp_path / "home"
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=home)
    levels = [110] * 12 + [66] * 6 + [110] * 12
    rows = [f"2026-03-02 {8 + n // 12:02d}:{5 * (n % 12):02d},{level}" for n, level in enumerate(levels)]
    file = tmp_path / "readings.csv"
    file.write_text("time,glucose (mg/dL)\n" + "\n".join(rows) + "\n", "utf-8")
    assert typed("import", str(file), home=home).exit_code == 0
    assert len(json.loads(typed("lows", "--json", home=home).stdout)["lows"]) == 1
    wide = json.loads(typed("factors", "--json", home=home).stdout)["factors"][0]["sd_log"]
    (home / "gramrise.toml").write_text("[detect]\nlow_mg_dl = 65\n[estimate.levels]\nperson_sd_log = 0.1\n", "utf-8")
    assert json.loads(typed("lows", "--json", home=home).stdout)["lows"] == []
    assert json.loads(typed("factors", "--json", home=home).stdout)["factors"][0]["sd_log"] < 0.9 * wide


def test_the_evidence_for_a_layout_keeps_to_80_columns_and_its_draft_can_still_be_pasted(tmp_path):
    import tomllib

    home = tmp_path / "home"
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", home=home)
    heads = [
        "Datum der Messung",
        "Wert der Messung",
        *(f"eine lange Spalte mit viel Text Nummer {n}" for n in range(3)),
    ]
    rows = [f"{13 + n // 24}/03/2026 {n % 24:02d}:00;{100 + n};a;b;c" for n in range(48)]
    file = tmp_path / "wide.csv"
    file.write_text(";".join(heads) + "\n" + "\n".join(rows) + "\n", "utf-8")
    told = typed("layouts", str(file), home=home).output
    lines = told.splitlines()
    start = next(at for at, line in enumerate(lines) if line.strip().startswith("name ="))
    assert max(len(line) for line in lines[:start]) <= 80
    assert tomllib.loads("\n".join(lines[start:]))["recognised_by"]["header"] == heads


def two_bottles(home):
    """A child with two liquids, and five amounts that may be of either."""
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=home)
    for name in ("night bottle", "syrup"):
        typed("person", "source", "mia", name, "--form", "liquid", "--grams-per-ml", "0.25", home=home)
    for day, amount in enumerate(("20 ml", "20 ml", "40 ml", "2 pieces", "20 ml"), start=1):
        typed("give", amount, "--at", f"2026-03-0{day} 02:10", home=home)


@pytest.mark.parametrize(
    ("answers", "sources"),
    [
        ("2\ny\n", ["syrup"] * 3 + [""] + ["syrup"]),
        ("2\n\n1\n\n2\n", ["syrup", "night bottle", "syrup", "", ""]),
        ("2\n\n1\n", ["syrup", "night bottle", "", "", ""]),
    ],
)
def test_one_answer_may_hold_for_all_that_are_alike_and_only_if_told_so(tmp_path, answers, sources):
    home = tmp_path / "home"
    two_bottles(home)
    assert "5" in CliRunner().invoke(app, ["--home", str(home), "ask"], input=answers).output
    told = json.loads(typed("treatments", "--json", home=home).stdout)["treatments"]
    assert [row["sources"][0] for row in told] == sources


def test_grams_typed_for_one_amount_are_offered_for_the_same_words_alone(tmp_path):
    home = tmp_path / "home"
    two_bottles(home)
    shown = CliRunner().invoke(app, ["--home", str(home), "ask"], input="grams\n5\ny\n")
    assert "The same for 2 more like it?" in shown.output
    told = json.loads(typed("treatments", "--json", home=home).stdout)["treatments"]
    assert [row["grams"] for row in told] == [5.0, 5.0, None, None, 5.0]


@pytest.mark.parametrize(("typed_in", "kept"), [("1", "pieces"), ("2", "grams"), ("grams", "grams")])
def test_a_whole_log_is_answered_pieces_or_grams_without_a_number(tmp_path, typed_in, kept):
    from gramrise.domain.batch import Question
    from gramrise.store.questions import stored_questions

    home = tmp_path / "home"
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=home)
    about = {"source": "", "amount_unit": "g", "origin": "file"}
    question = Question("mia", "pieces_or_grams", "|g|file", "Pieces or grams?", ("pieces", "grams"), about)
    with Store.open(home) as store, store.writing() as connection:
        stored_questions.ask(connection, [question], datetime(2026, 3, 9, tzinfo=UTC), "import")
    shown = CliRunner().invoke(app, ["--home", str(home), "ask"], input=f"{typed_in}\n")
    assert "all of them are grams" in shown.output
    assert "1 answered" in shown.output
    with Store.open(home) as store:
        assert [each.answer for each in store.questions("mia", only_open=False)] == [kept]


def test_a_note_brought_again_once_its_source_is_stated_holds_its_amounts_once(tmp_path):
    home = tmp_path / "home"
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=home)
    note = tmp_path / "night.txt"
    note.write_text("2026-03-02\n02:10 3 pieces\n04:30 2 pieces\n", "utf-8")
    first = typed("import", str(note), home=home)
    assert first.exit_code == 1, first.output
    typed("person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "4", home=home)
    again = typed("import", str(note), "--retry", home=home)
    assert again.exit_code == 0, again.output
    told = json.loads(typed("treatments", "--json", home=home).stdout)["treatments"]
    assert len(told) == 2
    assert None not in [row["grams"] for row in told]
    assert "No questions" in typed("ask", home=home).output


def test_a_source_stated_after_the_question_is_offered_as_its_answer(tmp_path):
    home = tmp_path / "home"
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=home)
    (tmp_path / "night.txt").write_text("2026-03-02\n02:10 3 pieces\n", "utf-8")
    typed("import", str(tmp_path / "night.txt"), home=home)
    typed("person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "4", home=home)
    shown = CliRunner().invoke(app, ["--home", str(home), "ask"], input="1\n")
    assert "1  pieces of candy" in shown.output
    (row,) = json.loads(typed("treatments", "--json", home=home).stdout)["treatments"]
    assert row["grams"] is not None


def test_an_odd_weight_of_a_file_counts_nowhere_before_it_is_answered(tmp_path):
    home = tmp_path / "home"
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.75", home=home)
    typed("person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "1", home=home)
    today = datetime.now(IN_BERLIN.latest()).date()
    (tmp_path / "scale.csv").write_text(f"time,kg\n{today},72\n", "utf-8")
    done = typed("import", str(tmp_path / "scale.csv"), home=home)
    assert done.exit_code == 1
    assert "Kilograms, pounds (32.7 kg), a wrong birth date, or a slip?" in " ".join(done.stderr.split())
    assert typed("factors", home=home).output.count("10.0") >= 2  # 317.5 / 31.75, in each band
    assert "31.8" in typed("person", "list", home=home).output
    for command in (("card", "--size", "wallet", "--look", "--json"), ("report", "--json")):
        weights = re.findall(r'"weight_kg": ([\d.]+)', typed(*command, home=home).stdout)
        assert {round(float(kg), 2) for kg in weights} == {31.75}, command
    once = CliRunner().invoke(app, ["--home", str(home), "ask"], input="kilograms\n\n")
    assert "72.0 kg counts from" in " ".join(once.output.split())
    assert "31.8" in typed("person", "list", home=home).output  # nobody said that it is meant: it waits still
    CliRunner().invoke(app, ["--home", str(home), "ask"], input="kilograms\ny\n")
    assert "4.4" in typed("factors", home=home).output  # 317.5 / 72


def five_hours(folder: Path, name: str, hour: int, value=lambda n: 100 + 7 * n % 60) -> str:
    """Five hours of readings from an hour of 2 March on; where the file lies."""
    rows = [f"2026-03-02 {hour + n // 12:02d}:{5 * (n % 12):02d},{value(n)}" for n in range(60)]
    (folder / f"{name}.csv").write_text("time,glucose (mg/dL)\n" + "\n".join(rows) + "\n", "utf-8")
    return str(folder / f"{name}.csv")


@pytest.fixture
def with_a_trace(tmp_path):
    home = tmp_path / "home"
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=home)
    assert typed("import", five_hours(tmp_path, "right", 8), home=home).exit_code == 0
    return home


def test_the_same_trace_by_a_clock_an_hour_off_waits_and_says_what_and_how_to_mend(tmp_path, with_a_trace):
    done = typed("import", five_hours(tmp_path, "clock-an-hour-off", 9), home=with_a_trace)
    told = " ".join(done.stderr.split())
    assert done.exit_code == 1
    assert "48 of the 48 readings it has for times known already of mia, Mon 02 Mar 2026 09:00 to Mon 02 Mar" in told
    assert "the very ones known for 1 h earlier; nothing of it was taken in" in told
    assert "--replace" in told
    (tmp_path / "again.csv").write_text((tmp_path / "right.csv").read_text("utf-8") + "\n", "utf-8")
    assert "60 known already" in typed("import", str(tmp_path / "again.csv"), home=with_a_trace).output


def test_a_file_said_to_be_right_replaces_what_is_known(tmp_path, with_a_trace):
    other = five_hours(tmp_path, "other", 8, lambda n: 150 + 11 * n % 70)
    waits = typed("import", other, "--dry-run", home=with_a_trace)
    assert waits.exit_code == 1
    assert "the very ones" not in waits.stderr
    right = typed("import", other, "--replace", home=with_a_trace)
    assert right.exit_code == 1  # it is asked about all the same: it may be another child's
    assert "corrected" in right.output
    assert "replaced 60 known readings of mia" in " ".join(right.output.split())


def test_another_childs_readings_that_replaced_these_are_asked_about_and_taken_back_whole(tmp_path, with_a_trace):
    with Store.open(with_a_trace) as store:
        before = store.readings("mia")
    other = five_hours(tmp_path, "other", 8, lambda n: 150 + 11 * n % 70)
    typed("import", other, "--replace", home=with_a_trace)
    with Store.open(with_a_trace) as store:
        assert not store.readings("mia").equals(before)
        (asked,) = store.questions("mia")
        assert asked.question.kind == "replaced_readings"
    answered = CliRunner().invoke(app, ["--home", str(with_a_trace), "ask"], input="take_back\n")
    assert "1 answered" in answered.output
    with Store.open(with_a_trace) as store:
        assert store.readings("mia").equals(before)
    typed("import", other, "--replace", home=with_a_trace)
    CliRunner().invoke(app, ["--home", str(with_a_trace), "ask"], input="right\n")
    with Store.open(with_a_trace) as store:
        assert not store.readings("mia").equals(before)


def test_a_few_corrected_readings_land_at_once(tmp_path, with_a_trace):
    mended = five_hours(tmp_path, "mended", 8, lambda n: 100 + 7 * n % 60 + (10 if n < 19 else 0))
    done = typed("import", mended, home=with_a_trace)
    assert done.exit_code == 0, done.output
    assert "19 corrected, 41 known already" in " ".join(done.output.split())


def test_forgetting_empties_the_copies_in_the_home_and_names_them_and_what_still_names_the_person(tmp_path):
    home = tmp_path / "home"
    typed("person", "add", "mia-unverwechselbar", "--born", "2016-04-02", "--zone", "Europe/Berlin", home=home)
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", home=home)
    copy = str(tmp_path / "copy.db")
    assert typed("backup", copy, home=home).exit_code == 0
    assert typed("restore", copy, "--yes", home=home).exit_code == 0
    (home / "gramrise.toml").write_text('[nightly.recipients]\nmia = [{ address = "mia@example.org" }]\n', "utf-8")
    told = typed("forget", "mia", "--yes", home=home)
    assert told.exit_code == 0
    assert "gramrise.db.before-restore-1 of 20" in " ".join(told.output.split())
    assert "Backups written elsewhere" in told.output
    assert "gramrise.toml still names who gets mail about mia" in told.stderr
    with closing(sqlite3.connect(home / "gramrise.db.before-restore-1")) as kept:
        assert kept.execute("SELECT person_id FROM persons").fetchall() == [("mia-unverwechselbar",)]
    assert typed("forget", "mia-unverwechselbar", "--yes", home=home).exit_code == 0
    assert not [file for file in home.iterdir() if b"unverwechselbar" in file.read_bytes()]


def test_schedule_once_names_what_it_held(tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", home=tmp_path)
    (tmp_path / "gramrise.toml").write_text("[nightly]\nrest_seconds = 0\n", "utf-8")
    (tmp_path / "inbox" / "mia").mkdir(parents=True)
    (tmp_path / "inbox" / "mia" / "letter.csv").write_text("what is this?\n", "utf-8")
    done = typed("schedule", "--once", home=tmp_path)
    assert done.exit_code == 1
    assert "letter.csv" in done.stderr


def test_a_card_of_a_source_where_none_is_stated_says_so(tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", home=tmp_path)
    refused = typed("card", "--source", "candy", home=tmp_path).exception
    assert "no source of mia is known yet, so no amount can be said" in str(refused)
    assert "gramrise person source mia 'candy'" in str(refused)


def test_a_card_is_readable_by_its_owner_only(tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=tmp_path)
    typed("person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "1", home=tmp_path)
    typed("person", "plan", "mia", "--below-54-grams", "9", "--look-again-minutes", "15", "--second-grams", "5",
          home=tmp_path)  # fmt: skip
    assert typed("card", "--size", "wallet", home=tmp_path).exit_code == 0
    written = sorted((tmp_path / "reports").glob("mia-card-1-wallet.*"))
    assert [file.suffix for file in written] == [".pdf", ".png"]
    assert {file.stat().st_mode & 0o777 for file in written} == {0o600}


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("person", "set", "mia", "--target-mg-dl", "120"), "the target has changed"),
        (("person", "set", "mia", "--delivery", "pump"), "insulin delivery has changed"),
        (("person", "plan", "mia", "--second-grams", "6"), "the care plan has changed"),
        (
            ("person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "1.2", "--meant"),
            "the strength",
        ),
        (("person", "weigh", "mia", "34"), "the body weight has changed"),
        (("person", "set", "mia", "--log-complete"), None),
    ],
)
def test_a_change_that_ends_a_card_says_so_where_it_is_typed(tmp_path, words, why):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=tmp_path)
    typed("person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "1", home=tmp_path)
    typed("person", "plan", "mia", "--below-54-grams", "9", "--look-again-minutes", "15", "--second-grams", "5",
          home=tmp_path)  # fmt: skip
    typed("card", "--size", "wallet", home=tmp_path)
    done = typed(*words, home=tmp_path)
    told = " ".join(done.output.split())
    assert ("Card 1 (candy) no longer holds:" in told) == (why is not None), done.output
    assert why is None or why in told


def test_a_card_that_cannot_be_printed_uses_up_no_number(tmp_path, monkeypatch):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=tmp_path)
    typed("person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "1", home=tmp_path)
    typed("person", "plan", "mia", "--below-54-grams", "9", "--look-again-minutes", "15", "--second-grams", "5",
          home=tmp_path)  # fmt: skip

    def no_paper(*_):
        raise CouldNotRun("no font has these letters", "store the name in other letters")

    with monkeypatch.context() as patched:
        patched.setattr("gramrise.report.card.pages.page.card_png", no_paper)
        assert isinstance(typed("card", "--size", "wallet", home=tmp_path).exception, CouldNotRun)
    assert not list((tmp_path / "reports").glob("*card*"))
    assert typed("card", "--size", "wallet", home=tmp_path).output.startswith("Glucose card 1")
    assert typed("card", "--look", home=tmp_path).output.startswith("Glucose card 2")


@pytest.mark.parametrize("amount", ["", "hello", "500 g", "0 g", "nothing"])
def test_an_amount_that_is_not_understood_is_never_passed_over_in_silence(monkeypatch, capsys, tmp_path, amount):
    home = tmp_path / "home"
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=home)
    code, told = exits(monkeypatch, capsys, "--home", str(home), "give", amount)
    assert code == 2
    assert "To mend:" in told
    assert json.loads(typed("treatments", "--json", home=home).stdout)["treatments"] == []


def test_the_same_amount_given_again_in_the_same_minute_is_told_to_be_known(tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=tmp_path)
    given = ("give", "4 g", "--at", "2026-03-01 02:10")
    assert "logged already" not in typed(*given, home=tmp_path).stderr
    assert "logged already" in typed(*given, home=tmp_path).stderr
    assert json.loads(typed("treatments", "--json", home=tmp_path).stdout)["treatments"][0]["grams"] == 4.0


def test_a_week_to_come_has_no_report(monkeypatch, capsys, tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31", home=tmp_path)
    code, told = exits(monkeypatch, capsys, "--home", str(tmp_path), "report", "--week-end", "2126-01-01")
    assert (code, "has not been yet" in told) == (2, True)


def test_a_person_is_forgotten_only_when_told_so(tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", home=tmp_path)
    assert typed("forget", "mia", home=tmp_path).exit_code == 2
    assert "mia" in typed("person", "list", home=tmp_path).output
    assert typed("forget", "mia", "--yes", home=tmp_path).exit_code == 0
    assert "Nobody yet" in typed("person", "list", home=tmp_path).output
