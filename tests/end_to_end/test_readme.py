"""What README promises a parent on the first day works as it is printed there."""

import re
import shlex
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from gramrise.cli.main import app

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")


def first_day(block=1):
    """The commands of README's first day, as typed: those before the phone (0), and those at a terminal (1)."""
    blocks = README.split("## A parent's first day", 1)[1].split("```sh")[1:]
    return [line for line in blocks[block].split("```", 1)[0].strip().splitlines() if line]


@pytest.fixture
def household(tmp_path, monkeypatch):
    """A folder with a week of readings and of glucose given, as the first day's commands name the files."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("GRAMRISE_HOME", str(tmp_path / "home"))
    start = datetime.now(UTC).replace(hour=0, minute=0, second=0, microsecond=0) - timedelta(days=7)
    readings = ["time,glucose (mmol/L)"]
    for step in range(7 * 288):
        at = start + timedelta(minutes=5 * step)
        # A slow fall to 3.4 mmol/L every night at three, back within the hour.
        near_three = abs((at.hour * 60 + at.minute) - 180) / 60
        readings.append(f"{at:%Y-%m-%dT%H:%M:%SZ},{min(7.0, 3.4 + 2.4 * near_three):.1f}")
    given = ["time,source,amount"]
    given += [f"{start + timedelta(days=day, hours=3, minutes=2):%Y-%m-%dT%H:%M:%SZ},candy,4" for day in range(7)]
    (tmp_path / "readings.csv").write_text("\n".join(readings) + "\n", "utf-8")
    (tmp_path / "glucose-given.csv").write_text("\n".join(given) + "\n", "utf-8")
    return tmp_path


def test_the_first_days_commands_work_as_printed(household):
    printed = []
    for line in first_day():
        words = shlex.split(line)
        assert words[0] == "gramrise"
        done = CliRunner().invoke(app, words[1:], catch_exceptions=False)
        assert done.exit_code == 0, f"{line}\n{done.output}"
        printed.append(done.output)
    told = "".join(printed)
    assert "2016 new" in told
    assert "7 new" in told
    assert told.count("treated") >= 7
    assert list((household / "home" / "reports").glob("mira-*.pdf"))


def test_three_lines_begin_the_page_and_a_link_lets_a_phone_in(household, monkeypatch):
    person, source, serve = (shlex.split(line)[1:] for line in first_day(0))
    told = ["--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5"]
    for words in ([*person, *told], source):
        done = CliRunner().invoke(app, words, catch_exceptions=False)
        assert done.exit_code == 0, done.output
    served = []
    monkeypatch.setattr("gramrise.web.serving.server.serve_page", lambda *told: served.append(told))
    done = CliRunner().invoke(app, serve, catch_exceptions=False)
    assert "SHA-256" in done.output
    assert served[0][1] == "0.0.0.0"
    assert served[0][-1] is True  # with the nights beside it
    link = re.search(r"`gramrise (let-in mira [^`]+)`", README)[1]
    assert "https://192.168.1.20:8737/in/" in CliRunner().invoke(app, shlex.split(link), catch_exceptions=False).output


def test_the_night_is_logged_as_readme_says(household):
    for line in first_day()[:3]:
        CliRunner().invoke(app, shlex.split(line)[1:], catch_exceptions=False)
    night = re.search(r"`gramrise (give 3 pieces at 02:10)`", README)
    assert night is not None
    done = CliRunner().invoke(app, shlex.split(night[1]), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    assert "2.73 g of glucose" in done.output
    assert "02:10" in done.output


def test_readme_opens_with_the_job_and_says_what_it_is_not():
    opening = README.split("## ", 1)[0]
    assert "one gram raises this child" in opening
    assert "never advises on insulin" in opening
    for caution in ("nothing by mouth", "finger-stick when feeling and sensor disagree", "Look again after 15 minutes"):
        assert caution in " ".join(README.split())


def test_readme_uses_the_households_words():
    prose = re.sub(r"`[^`]*`|```.*?```", "", README, flags=re.DOTALL)
    # In this household "dose" is insulin, and a bare "factor" means nothing to a parent.
    assert re.findall(r"\b[Dd]oses?\b|\bfactors?\b", prose) == []
