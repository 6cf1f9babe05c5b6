"""Errors of the command line are told in our own words, within 80 columns, and say how to mend."""

import re
from pathlib import Path

import pytest
import typer
from typer.main import get_command

from gramrise.cli.main import app, run
from gramrise.cli.usage_words import in_our_words

ROOT = Path(__file__).parents[3]


def told(monkeypatch, capsys, home, *words):
    monkeypatch.setattr("gramrise.cli.main._AT_WORK", [])  # else the home of another test tells its language
    monkeypatch.setattr("sys.argv", ["gramrise", "--home", str(home), *words])
    with pytest.raises(SystemExit) as stopped:
        run()
    return stopped.value.code, capsys.readouterr().err


@pytest.mark.parametrize("what", ["Directory", "File", "Path"])
def test_a_home_that_may_not_be_read_says_who_must_own_it(what):
    """It sent to --help, which lists nothing about rights."""
    told = in_our_words(typer.BadParameter(f"{what} '/srv/home' is not readable.", param_hint="--home"))
    assert (told.what, told.mend) == (
        "--home: '/srv/home' is closed to the user who runs this",
        "let this user own it, or name another folder",
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("gve", "3"), "no command 'gve'"),
        (("give",), "AMOUNT... is missing"),
        (("give", "3", "--att", "2:10"), "no option --att"),
        (("give", "3", "--at"), "--at stands without its value"),
        (("lows", "now"), "nothing is meant by 'now' there"),
        (("person", "source", "mia", "candy", "--grams-per-piece", "four"), "'four' is no number"),
        (("person", "add", "mia", "--born", "2016-01-01"), "--zone"),
    ],
)
def test_a_slip_on_the_command_line_says_how_to_mend_it(monkeypatch, capsys, tmp_path, words, said):
    status, err = told(monkeypatch, capsys, tmp_path, *words)
    assert status == 2
    assert said in " ".join(err.split())
    assert "Traceback" not in err
    assert "Usage:" not in err
    assert max(len(line) for line in err.splitlines()) <= 80


def test_a_setting_there_is_not_is_told_in_our_words(monkeypatch, capsys, tmp_path):
    told(monkeypatch, capsys, tmp_path, "person", "add", "mia", "--born", "2016-01-01", "--zone", "Europe/Berlin")
    (tmp_path / "gramrise.toml").write_text("[intake]\nmost_pieces = 3\n", "utf-8")
    status, err = told(monkeypatch, capsys, tmp_path, "give", "3 g")
    assert status == 2
    assert "there is no such setting" in " ".join(err.split())
    assert "permitted" not in err


# Words that follow the name in a sentence about the program, English and German; every other one is a command.
IN_PROSE = {"knows", "is", "itself", "own", "has", "at", "wrote", "makes", "sealed", "does", "that", "made", "a"} | {
    "bei",
    "ausführt",
    "ausführen",
    "geschrieben",
    "installieren",
    "nicht",
    "anlegt",
}
WRITTEN = re.compile(r"\bgramrise (?P<command>[a-zäöü][a-zäöü-]*)(?: (?P<under>[a-z][a-z-]*))?")


def no_commands(text: str) -> list[str]:
    """What a text names as a command of ours and is none."""
    known = {name: set(getattr(command, "commands", ())) for name, command in get_command(app).commands.items()}
    wrong = []
    for match in WRITTEN.finditer(text):
        command, under = match["command"], match["under"]
        if command not in known | dict.fromkeys(IN_PROSE) or (
            known.get(command) and under and under not in known[command]
        ):
            wrong.append(match.group())
    return wrong


def test_every_command_that_a_sentence_names_is_one():
    """A refusal once advised `gramrise weight add`, which there is not."""
    assert no_commands("run gramrise weight add, or gramrise person wigh mia") == [
        "gramrise weight add",
        "gramrise person wigh",
    ]
    places = [ROOT / "README.md", ROOT / "DEVELOPERS.md"]
    places += [
        path
        for folder in ("src", "config", "connectors")
        for path in (ROOT / folder).rglob("*")
        if path.suffix in {".py", ".toml", ".html", ".md", ".txt"}
    ]
    assert len(places) > 300
    assert {str(path): wrong for path in places if (wrong := no_commands(path.read_text("utf-8")))} == {}
