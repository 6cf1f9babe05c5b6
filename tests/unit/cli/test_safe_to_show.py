"""Nothing that a file or a name holds steers the terminal; what a command writes is for its owner only."""

import json
import os
import stat
import subprocess
import sys
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from gramrise.cli import documents, tables
from gramrise.domain.person import Dated, Person
from gramrise.domain.printable import for_terminal, printable
from gramrise.domain.problems import Trouble
from gramrise.store import Store

HOSTILE = ["\x1b[2J", "\x9b31m", "a\rb", "\u202egnp.csv", "\u2066x", "\x07", "\udce4", "\x00", "\u2028"]


@pytest.mark.parametrize("text", HOSTILE)
def test_what_steers_a_terminal_is_shown_as_an_escape(text, capsys):
    for shown in (printable(text), for_terminal(text)):
        assert shown.isprintable()
        assert "\\" in shown
    tables.say(f"read {text}")
    tables.say_line(f"read {text}")
    tables.warn(f"read {text}")
    tables.show("T", [("name", "left")], [(text,)], empty="")
    out, err = capsys.readouterr()
    assert all(line.isprintable() for line in (out + err).split("\n"))
    sentence = Trouble("no_time", text, 3, text, text, "the row has no time", "write when it was").sentence
    assert sentence.isprintable()
    assert json.loads(documents.written({"name": text}))["name"] == text
    assert documents.written({"name": text}).replace("\n", "").isprintable()


@pytest.mark.parametrize("text", ["märz.csv", "नमस्ते", "👩‍👧", "3 Stück ½", "plain.csv", "two words"])
def test_plain_words_of_any_language_stay_as_they_are(text):
    assert printable(text) == text
    assert for_terminal(f"{text}\n{text}") == f"{text}\n{text}"


def test_a_file_with_a_hostile_name_is_imported_and_named_safely_under_an_open_umask(tmp_path):
    home = tmp_path / "home"
    with Store.open(home) as store:
        born = date(2016, 5, 1)
        store.save_person(Person("mia", born, Dated(((born, ZoneInfo("Europe/Berlin")),))))
    rows = "".join(f"{datetime(2026, 3, 1, 12, at, tzinfo=UTC).isoformat()},110\n" for at in range(0, 60, 5))
    hostile = os.path.join(os.fsencode(tmp_path), b"m\xe4rz\x1b[2J.csv")
    with open(hostile, "w") as out:
        out.write(f"time,glucose (mg/dL)\n{rows}2026-03-01T13:00+00:00,ma\x1b[31mny\n")
    told = subprocess.run(
        [sys.executable, "-m", "gramrise", "--home", str(home), "import", hostile],
        env=os.environ | {"PYTHONIOENCODING": "utf-8"}, capture_output=True, check=False, umask=0, timeout=200,
    )  # fmt: skip
    assert told.returncode == 1, told.stderr
    assert b"\x1b" not in told.stdout + told.stderr
    assert b"12 new" in told.stdout
    assert [path.name for path in home.rglob("*") if stat.S_IMODE(path.stat().st_mode) & 0o077] == []
