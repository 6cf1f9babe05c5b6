"""What a clinic types: sealed backups, a person taken out and brought in, the trail, panels, numbers for a monitor."""

import json

import pytest
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.domain.problems import WrongUse


def typed(*words, home):
    return CliRunner().invoke(app, ["--home", str(home), *map(str, words)])


@pytest.fixture
def home(tmp_path):
    home = tmp_path / "home"
    for who in ("mia", "tom"):
        done = typed("person", "add", who, "--born", "2016-04-02", "--zone", "Europe/Berlin", home=home)
        assert done.exit_code == 0, done.output
    return home


def test_a_backup_is_sealed_with_a_new_key_and_restored_with_it_only(home, tmp_path):
    done = typed("backup", tmp_path / "copy", "--new-key", tmp_path / "key", home=home)
    assert done.exit_code == 0, done.output
    assert "It is sealed." in done.output
    assert b"SQLite" not in (tmp_path / "copy").read_bytes()
    refused = typed("restore", tmp_path / "copy", "--yes", home=home)
    assert isinstance(refused.exception, WrongUse)
    assert typed("restore", tmp_path / "copy", "--key", tmp_path / "key", "--yes", home=home).exit_code == 0
    assert "mia" in typed("person", "list", home=home).output


def test_a_backup_needs_a_file_or_a_key_to_make(home, tmp_path):
    assert isinstance(typed("backup", home=home).exception, WrongUse)
    assert typed("backup", "--new-key", tmp_path / "key", home=home).exit_code == 0


def test_a_person_is_taken_out_and_brought_in_under_another_id(home, tmp_path):
    assert typed("export", "mia", "--to", tmp_path / "mia", home=home).exit_code == 0
    done = typed("bring-in", tmp_path / "mia", "--as", "mia-2", home=home)
    assert done.exit_code == 0, done.output
    assert "mia-2" in typed("person", "list", home=home).output


def test_who_did_what_is_listed_and_a_forgotten_person_is_a_code(home, tmp_path):
    typed("export", "mia", "--to", tmp_path / "mia", home=home)
    told = typed("audit", "--person", "mia", home=home).output
    assert "took out export of mia" in told
    assert typed("forget", "mia", "--yes", home=home).exit_code == 0
    [line] = [
        each for each in json.loads(typed("audit", "--json", home=home).output)["audit"] if each["what"] == "export"
    ]
    assert (line["did"], line["role"]) == ("took_out", "command")
    assert line["person"]
    assert "mia" not in line["person"]


def test_panels_are_made_listed_and_emptied(home):
    assert "north: mia" in typed("panel", "north", "--add", "mia", home=home).output
    assert "north: mia" in typed("panel", home=home).output
    assert "nobody" in typed("panel", "north", "--remove", "mia", home=home).output
    assert isinstance(typed("panel", "--add", "mia", home=home).exception, WrongUse)


def test_numbers_for_a_monitor_are_printed_or_written(home, tmp_path):
    printed = typed("metrics", home=home)
    assert "gramrise_persons 2.0" in printed.output
    assert typed("metrics", "--to", tmp_path / "gramrise.prom", home=home).exit_code == 0
    assert "gramrise_persons 2.0" in (tmp_path / "gramrise.prom").read_text()


def test_a_pass_tells_its_log_as_json_where_asked(home):
    (home / "gramrise.toml").write_text("[nightly]\nrest_seconds = 0\n", "utf-8")
    done = typed("nightly", "--log", home=home)
    [line] = [json.loads(each) for each in done.stderr.splitlines() if each.startswith("{")]
    assert (line["event"], line["persons"]) == ("pass done", 2)
