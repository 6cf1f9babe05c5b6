"""Commands as people type them: help, exit status, errors that say how to mend, words on the screen."""

import json
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from typer.main import get_command
from typer.testing import CliRunner

from gramrise.cli.main import app, exit_status, run
from gramrise.cli.sentences import CLASS_WORDS, STATE_WORDS, counted, outcome_words, reason_words
from gramrise.cli.taking_in_commands import _instant
from gramrise.domain.person import Dated, Person
from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.domain.words import Outcome, State, TreatmentClass

README = (Path(__file__).resolve().parents[3] / "README.md").read_text("utf-8")
COMMANDS = sorted(get_command(app).commands)
BERLIN = ZoneInfo("Europe/Berlin")


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
    listed = typed("person", "list", home=tmp_path).output
    assert "mia" in listed
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
        (("person", "add", "x", "--born", "2.4.2016", "--zone", "Europe/Berlin"), 2, "write YYYY-MM-DD"),
        (("person", "add", "x", "--born", "2016-04-02", "--zone", "CST"), 2, "write it as Europe/Berlin"),
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


def test_exit_status_tells_wrong_use_from_could_not_run():
    assert exit_status(WrongUse("a", "b")) == 2
    assert exit_status(CouldNotRun("a", "b")) == 3


def test_a_clock_time_alone_is_the_latest_such_time_that_has_been():
    who = Person("p", datetime(2016, 1, 1, tzinfo=UTC).date(), Dated(((datetime(2016, 1, 1).date(), BERLIN),)))  # noqa: DTZ001
    now = datetime(2026, 3, 9, 6, 0, tzinfo=UTC)  # 07:00 in Berlin
    assert _instant("02:10", who, now) == datetime(2026, 3, 9, 1, 10, tzinfo=UTC)
    assert _instant("23:30", who, now) == datetime(2026, 3, 8, 22, 30, tzinfo=UTC)
    with pytest.raises(WrongUse, match="has not been yet"):
        _instant("2026-03-09 08:00", who, now)
    with pytest.raises(WrongUse, match="write 02:10"):
        _instant("ten past two", who, now)


def test_every_outcome_class_and_state_has_its_words():
    assert {outcome.value for outcome in Outcome if outcome_words(outcome.value, 0.5)} == set(Outcome)
    assert set(CLASS_WORDS) == set(TreatmentClass)
    assert set(STATE_WORDS) == set(State)
    assert outcome_words("nothing_logged", 0.16) == "nothing logged (given: 16 %)"
    assert reason_words(["gap_in_readings", "insulin_near"]) == ": gap in readings, insulin near"
    assert reason_words([]) == ""
    assert [counted(n, "low") for n in (0, 1, 2)] == ["0 lows", "1 low", "2 lows"]


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


def test_a_person_is_forgotten_only_when_told_so(tmp_path):
    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", home=tmp_path)
    assert typed("forget", "mia", home=tmp_path).exit_code == 2
    assert "mia" in typed("person", "list", home=tmp_path).output
    assert typed("forget", "mia", "--yes", home=tmp_path).exit_code == 0
    assert "Nobody yet" in typed("person", "list", home=tmp_path).output
