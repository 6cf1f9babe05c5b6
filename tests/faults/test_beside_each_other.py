"""Commands beside each other: `give` beside nights tells the truth, and `schedule` is stopped at any of its moments."""

import os
import signal
import subprocess
import sys
import threading
import time
from datetime import timedelta

import pytest
from support.nightly_home import START, child, drop, readings_csv, settled

from gramrise.cli.commands import inputs
from gramrise.domain.problems import CouldNotRun
from gramrise.nightly import run_night
from gramrise.store import Store, database

pytestmark = pytest.mark.slow

GIVES = 12


def gramrise(home, *words, **more):
    return subprocess.Popen(
        [sys.executable, "-m", "gramrise", "--home", str(home), *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=dict(os.environ),
        **more,
    )


@pytest.fixture
def home(tmp_path):
    settled(tmp_path / "home")
    with Store.open(tmp_path / "home") as store:
        store.save_person(child())
    return tmp_path / "home"


def test_glucose_given_beside_a_nightly_is_logged_once_and_said_to_be(home):
    from typer.testing import CliRunner

    from gramrise.cli.main import app

    drop(home, "mia", "march.csv", readings_csv(START - timedelta(days=5), 24 * 5, low_at=3))
    over, nights = threading.Event(), []

    def all_night():
        with Store.open(home) as mine:
            while not over.is_set():
                nights.append(run_night(mine, home, START))

    beside = threading.Thread(target=all_night)
    beside.start()
    try:
        told = []
        for number in range(GIVES):
            words = ["--home", str(home), "give", "3 pieces", "--at", f"2026-03-01 {number:02d}:10"]
            told.append(CliRunner().invoke(app, words))
    finally:
        over.set()
        beside.join()
    assert nights
    assert [each.exit_code for each in told] == [0] * GIVES, [each.output for each in told]
    with Store.open(home) as store:
        assert store.inputs("mia").doses.height == GIVES


def test_a_failed_give_says_truly_whether_the_glucose_is_logged_and_entering_it_again_logs_it_once(home, monkeypatch):
    from typer.testing import CliRunner

    from gramrise.cli.main import app

    words = ["--home", str(home), "give", "3 pieces", "--at", "2026-03-01 02:10"]

    def given():
        with Store.open(home) as store:
            return store.inputs("mia").doses.height

    def fails(after):
        real = Store.take_in

        def broken(self, *given, **named):
            if named.get("dry_run"):  # the look for an amount of the same minute changes nothing
                return real(self, *given, **named)
            if after:
                real(self, *given, **named)
            raise CouldNotRun("the database gramrise.db is in use by another program", "wait", "database_locked")

        return broken

    for after, said, logged in ((False, "nothing of it is logged", 0), (True, "it IS logged, do not log it again", 1)):
        with monkeypatch.context() as patched:
            patched.setattr(Store, "take_in", fails(after))
            failed = CliRunner().invoke(app, words)
        assert isinstance(failed.exception, CouldNotRun)
        assert said in str(failed.exception)
        assert given() == logged
    again = CliRunner().invoke(app, words)
    assert again.exit_code == 0
    assert "logged already" in again.output
    assert given() == 1
    assert inputs.give is not None


def test_a_give_that_cannot_wait_any_longer_says_that_nothing_is_logged(home, monkeypatch):
    from typer.testing import CliRunner

    from gramrise.cli.main import app

    monkeypatch.setattr(database, "WAIT_FOR_LOCK_SECONDS", 0.2)
    database.engine_for.cache_clear()
    with Store.open(home) as other, other.writing():
        held = CliRunner().invoke(app, ["--home", str(home), "give", "3 pieces"])
    database.engine_for.cache_clear()
    assert "nothing of it is logged" in str(held.exception)


@pytest.mark.parametrize("after_seconds", [0.4, 0.8, 1.2, 1.6, 2.4])
def test_a_schedule_told_to_stop_while_it_starts_ends_in_good_order(home, after_seconds):
    running = gramrise(home, "schedule")
    waited = 0.0
    blocked = 1 << (signal.SIGTERM - 1)
    while waited < 30 and not _mask_of(running.pid) & blocked:  # the command itself has begun
        time.sleep(0.02)
        waited += 0.02
    time.sleep(after_seconds - 0.4)
    running.send_signal(signal.SIGTERM)
    _, said = running.communicate(timeout=60)
    assert running.returncode == 0, said
    assert "Traceback" not in said
    assert "schedule stopped" in said


def _mask_of(pid):
    with open(f"/proc/{pid}/status") as status:
        return int(next(line for line in status if line.startswith("SigBlk")).split()[1], 16)
