"""gramrise review: slips are told before anything is opened, and an empty household is told what to do."""

import pytest
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.domain.problems import WrongUse


def _typed(home, *words):
    return CliRunner().invoke(app, ["--home", str(home), "review", *map(str, words)])


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([], "no folder is named"),
        (["--csv"], "no folder is named"),
        (["--json", "--csv", "--to", "out"], "one form at a time"),
        (["--to", "out", "--days", "3"], "--days belongs to a FHIR bundle"),
        (["--to", "out", "--language", "fr"], "no words are written in 'fr'"),
        (["--to", "out"], "nobody is known yet"),
        (["mia", "--to", "out"], "no person 'mia'"),
    ],
)
def test_a_slip_is_told_and_nothing_is_written(words, told, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = _typed(tmp_path / "home", *words)
    assert isinstance(done.exception, WrongUse)
    assert told in str(done.exception)
    assert not (tmp_path / "out").exists()


def test_a_file_where_the_folder_should_be_is_told(tmp_path):
    (tmp_path / "out").write_text("", "utf-8")
    done = _typed(tmp_path / "home", "--to", tmp_path / "out")
    assert isinstance(done.exception, WrongUse)
    assert "is a file" in str(done.exception)
