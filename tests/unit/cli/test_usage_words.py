"""Errors of the command line are told in our own words, within 80 columns, and say how to mend."""

import pytest

from gramrise.cli.main import run


def told(monkeypatch, capsys, home, *words):
    monkeypatch.setattr("gramrise.cli.main._AT_WORK", [])  # else the home of another test tells its language
    monkeypatch.setattr("sys.argv", ["gramrise", "--home", str(home), *words])
    with pytest.raises(SystemExit) as stopped:
        run()
    return stopped.value.code, capsys.readouterr().err


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
