"""The pass: idempotent, one person's failure stops nobody else, and only one pass at a time."""

import io
import json
import os
import subprocess
import sys
from datetime import date, timedelta

import pytest
from sqlalchemy import event
from support.nightly_home import START, child, doses_csv, drop, readings_csv

from gramrise.domain.problems import CouldNotRun
from gramrise.nightly import forget_person, logs, run_night
from gramrise.nightly.lock import only_one
from gramrise.nightly.night import persons_due
from gramrise.nightly.settings import nightly_settings
from gramrise.nightly.workers import persons
from gramrise.store.runs import DONE, FAILED, NIGHTLY

NOW = START + timedelta(days=1)


def test_a_pass_run_twice_leaves_what_one_pass_leaves(store, home):
    drop(home, "mia", "march.csv", readings_csv(START, 20, low_at=3))
    drop(home, "mia", "given.csv", doses_csv(START + timedelta(hours=3, minutes=15)))
    run_night(store, home, NOW)
    before = store.findings("mia")
    again = run_night(store, home, NOW)
    after = store.findings("mia")
    assert again.rows == 0
    assert before.lows.height == 1
    for name in ("lows", "treatments", "pairings", "factors", "predictions"):
        assert getattr(after, name).equals(getattr(before, name))


def test_a_person_whose_night_fails_is_told_and_the_others_are_brought_up_to_date(store, home, monkeypatch):
    def fails_for_mia(store, person_id, *rest, **more):
        if person_id == "mia":
            raise ValueError("glucose 62.37 of Mia")
        return real(store, person_id, *rest, **more)

    real = persons.bring_up_to_date
    monkeypatch.setattr(persons, "bring_up_to_date", fails_for_mia)
    stream = io.StringIO()
    logs.log_to(stream)
    done = run_night(store, home, NOW)
    assert (done.persons, done.failed) == (1, 1)
    assert "FAILED" in done.sentence
    parts = store.runs.parts(store.runs.latest(NIGHTLY).run_id)
    assert {part.person_id: part.state for part in parts} == {"mia": FAILED, "tom": DONE}
    lines = [json.loads(line) for line in stream.getvalue().splitlines()]
    assert [line["event"] for line in lines] == ["person failed", "pass done"]
    assert "ValueError" in lines[0]["place"]
    assert not any(word in stream.getvalue() for word in ("62.37", "glucose", "mia", "Mia", "tom"))


def test_a_failed_night_is_tried_again_after_a_pause_and_a_done_one_is_not(store, home, monkeypatch):
    settings = nightly_settings(home)
    assert persons_due(store, NOW, settings) == {"mia", "tom"}
    with monkeypatch.context() as patched:
        patched.setattr(persons, "bring_up_to_date", lambda *_, **__: 1 / 0)
        run_night(store, home, NOW, only={"mia"})
    run_night(store, home, NOW, only={"tom"})
    assert persons_due(store, NOW, settings) == set()
    assert persons_due(store, NOW + timedelta(hours=7), settings) == {"mia"}
    assert persons_due(store, NOW + timedelta(days=1), settings) == {"mia", "tom"}


def test_a_week_without_a_pass_is_caught_up_by_one(store, home):
    run_night(store, home, NOW)
    later = NOW + timedelta(days=8)
    assert persons_due(store, later, nightly_settings(home)) == {"mia", "tom"}
    run_night(store, home, later)
    assert persons_due(store, later, nightly_settings(home)) == set()
    done = store.runs.done_since(NIGHTLY, date(2026, 3, 1))
    assert {day for who, day in done if who == "mia"} == {NOW.date(), later.date()}


def test_a_clock_set_back_does_nothing_twice_and_the_true_nights_are_still_done(store, home):
    ahead = NOW + timedelta(days=400)
    run_night(store, home, ahead)
    settings = nightly_settings(home)
    assert persons_due(store, NOW, settings) == {"mia", "tom"}
    run_night(store, home, NOW)
    assert persons_due(store, NOW, settings) == set()
    assert store.findings("mia").as_of_utc == NOW
    assert store.runs.noted("clock_jumped")["minutes"] < 0


def test_two_passes_at_once_are_refused_and_the_lock_falls_with_the_process_that_held_it(store, home):
    code = (
        "import sys,time; from pathlib import Path; from gramrise.nightly.lock import only_one\n"
        f"with only_one(Path({str(home)!r})): print('held', flush=True); time.sleep(60)"
    )
    other = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert other.stdout.readline() == "held\n"
    with pytest.raises(CouldNotRun, match="another nightly pass or restore"):
        run_night(store, home, NOW)
    other.kill()
    other.wait()
    other.stdout.close()
    with only_one(home):
        pass


def test_a_pass_told_to_stop_ends_with_the_person_at_hand_and_the_next_one_does_the_rest(store, home):
    asked = iter([False, True])
    stopped = run_night(store, home, NOW, stop=lambda: next(asked))
    assert (stopped.persons, stopped.stopped) == (1, True)
    assert persons_due(store, NOW, nightly_settings(home)) == {"tom"}
    assert store.runs.latest(NIGHTLY) is None


def test_trouble_of_the_whole_home_ends_the_pass(store, home, monkeypatch):
    def full(*_, **__):
        raise CouldNotRun("the disk is full", "make room", "disk_full")

    monkeypatch.setattr(persons, "bring_up_to_date", full)
    with pytest.raises(CouldNotRun, match="disk is full"):
        run_night(store, home, NOW)


def test_the_service_keeps_its_files_from_others(store, home):
    previous = os.umask(0)
    try:
        drop(home, "mia", "march.csv", readings_csv(START, 20))
        run_night(store, home, NOW)
    finally:
        os.umask(previous)
    for made in ("nightly.lock", "health.json", "gramrise.db"):
        assert (home / made).stat().st_mode & 0o077 == 0
    assert (home / "inbox" / "mia" / "done").stat().st_mode & 0o077 == 0


def test_a_new_person_is_due_at_once(store, home):
    run_night(store, home, NOW)
    store.save_person(child("zoe", "Asia/Tokyo"))
    assert persons_due(store, NOW, nightly_settings(home)) == {"zoe"}


def test_a_forgotten_person_leaves_no_row_and_no_file_and_the_others_keep_theirs(store, home):
    for who in ("mia", "tom"):
        drop(home, who, "march.csv", readings_csv(START - timedelta(days=2), 60))
    run_night(store, home, START + timedelta(hours=12))
    other = home / "reports" / "mia-2-2026-03-01.pdf"
    other.parent.mkdir(exist_ok=True)
    other.write_bytes(b"of a child whose id begins alike")
    assert forget_person(store, home, "mia").files >= 2
    assert [person.person_id for person in store.persons()] == ["tom"]
    assert list(home.rglob("*mia*")) == [other]
    assert len(list(home.rglob("*tom*"))) >= 2


def test_a_night_on_a_full_disk_loses_nothing_and_the_next_one_with_room_does_it_all(store, home):
    drop(home, "mia", "march.csv", readings_csv(START - timedelta(days=6), 24 * 6, low_at=3))
    drop(home, "mia", "given.csv", doses_csv(START - timedelta(days=6) + timedelta(hours=3, minutes=15)))

    def no_room(driver, _record):
        pages = driver.execute("PRAGMA page_count").fetchone()[0]
        driver.execute(f"PRAGMA max_page_count={pages + 4}")

    event.listen(store.engine, "connect", no_room)
    store.engine.dispose()
    with pytest.raises(CouldNotRun, match="disk is full") as refused:
        run_night(store, home, NOW)
    assert "while mia was brought up to date" in str(refused.value)
    assert "files that wait in the inbox: " in str(refused.value)
    event.remove(store.engine, "connect", no_room)
    store.engine.dispose()
    assert "march.csv" in {file.name for file in (home / "inbox" / "mia").iterdir()}
    night = run_night(store, home, NOW)
    assert (night.persons, night.failed) == (2, 0)
    assert store.inputs("mia").readings.height == 24 * 6 * 12
    assert store.findings("mia").treatments.height == 1
    assert not [file for file in (home / "inbox" / "mia").glob("[!.]*") if file.is_file()]
