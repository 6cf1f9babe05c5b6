"""Commands that store or look up answer at once: they load no library they do not need, and compute no findings."""

import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pytest
from typer.testing import CliRunner

from gramrise import __version__
from gramrise.cli.main import app
from gramrise.store import Store

HEAVY = {"alembic", "apscheduler", "jinja2", "matplotlib", "numba", "scipy", "typst"}
FRAMES = {"numpy", "polars"}
PERSON = ("person", "add", "robin", "--born", "2017-03-01", "--zone", "Europe/Berlin", "--weight-kg", "30")


def typed(home, *words):
    return CliRunner().invoke(app, ["--home", str(home), *words], catch_exceptions=False)


@pytest.fixture
def home(tmp_path):
    """A household with one person whose findings are up to date."""
    assert typed(tmp_path / "home", *PERSON).exit_code == 0
    assert typed(tmp_path / "home", "factors").exit_code == 0
    return tmp_path / "home"


def loaded_by(home, *words) -> set[str]:
    """Top-level modules that a command loads, run as a process of its own."""
    code = (
        "import sys\nfrom gramrise.cli.main import run\n"
        f"sys.argv = ['gramrise', '--home', {str(home)!r}, *{list(words)!r}]\n"
        "try:\n    run()\nexcept SystemExit as stop:\n    assert stop.code in (0, None), stop.code\n"
        "print('LOADED', *sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    last = done.stdout.strip().split("\n")[-1].split()
    assert last[0] == "LOADED"
    return {name for name in last[1:] if "." not in name}


@pytest.mark.parametrize(
    "words",
    [
        ("give", "5 g"),
        ("person", "weigh", "robin", "31kg"),
        ("person", "set", "robin", "--name", "Robin"),
        ("person", "list"),
        ("readings",),
        ("lows",),
        ("factors",),
    ],
)
def test_a_quick_command_loads_nothing_that_computes_draws_or_migrates(home, words):
    loaded = loaded_by(home, *words)
    assert "sqlalchemy" in loaded
    assert loaded & HEAVY == set()


@pytest.mark.parametrize(
    "words",
    [("person", "list"), ("person", "weigh", "robin", "31kg"), ("person", "set", "robin", "--name", "Robin")],
)
def test_a_command_about_a_person_loads_no_frames(home, words):
    assert loaded_by(home, *words) & (HEAVY | FRAMES) == set()


def test_what_is_logged_waits_in_the_store_until_findings_are_read(home):
    assert typed(home, "give", "5 g").exit_code == 0
    with Store.open(home) as store:
        assert not store.findings_are_current("robin")
    assert "Pairings of robin" in typed(home, "pairings").output
    with Store.open(home) as store:
        assert store.findings_are_current("robin")
        assert store.findings("robin").treatments.height == 1


def test_a_changed_setting_brings_findings_up_to_date_for_whoever_reads_them_next(home):
    with Store.open(home) as store:
        before = store.current_as_of("robin")
    (home / "gramrise.toml").write_text("[detect]\n", "utf-8")
    typed(home, "lows")
    with Store.open(home) as store:
        assert store.current_as_of("robin") > before


def test_a_name_changes_no_finding_and_a_weight_does(home):
    typed(home, "person", "set", "robin", "--name", "Robin")
    with Store.open(home) as store:
        assert store.findings_are_current("robin")
    typed(home, "person", "weigh", "robin", "30.5kg", "--on", f"{datetime.now(UTC) - timedelta(days=9):%Y-%m-%d}")
    with Store.open(home) as store:
        assert not store.findings_are_current("robin")


def test_only_the_frames_asked_for_are_read(home):
    typed(home, "give", "5 g")
    typed(home, "lows")
    with Store.open(home) as store:
        assert store.findings("robin", ("treatments",)).treatments.height == 1
        assert store.findings("robin", ("lows",)).treatments.height == 0


def test_the_version_is_told():
    told = CliRunner().invoke(app, ["--version"])
    assert (told.exit_code, told.output.strip()) == (0, f"gramrise {__version__}")
