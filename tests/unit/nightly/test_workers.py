"""The persons of a night given to processes: the same as here, and a worker that dies costs only time."""

import multiprocessing
import os
import signal
import threading
import time
from concurrent.futures import Future
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from support.night_state import SUNDAY, copy_of, make_home, state_of
from support.nightly_home import child, settled

from gramrise.nightly import run_night
from gramrise.nightly.workers import NightOfPersons, PersonDue, spread, spreading
from gramrise.nightly.workers.task import Task
from gramrise.store import NIGHTLY, Store

pytestmark = pytest.mark.slow

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)


class Here:
    """An executor that works at once, in this process."""

    def submit(self, work, task):
        future = Future()
        try:
            future.set_result(work(task))
        except RuntimeError as problem:
            future.set_exception(problem)
        return future


@pytest.fixture
def here(monkeypatch):
    """Executors that work in this process; how many were opened."""
    opened = []

    @contextmanager
    def executor_of(_settings, most=None):
        opened.append(most)
        yield Here()

    monkeypatch.setattr(spreading, "executor_of", executor_of)
    return opened


def tasks(home, *persons):
    return [Task(home, NOW, 1, "mark", tuple(PersonDue(each, date(2026, 3, 2)) for each in some)) for some in persons]


def worked(task):
    return NightOfPersons(persons=len(task.due))


def never():
    return False


def test_every_task_is_done_once(tmp_path, here):
    settings = settled(tmp_path)
    asked = tasks(tmp_path, ["a", "b"], ["c"], ["d", "e", "f"])
    done = list(spread(asked, settings, pytest.fail, never, worked))
    assert sorted(each.persons for each in done) == [1, 2, 3]
    assert here == [None]


def test_a_task_that_died_is_given_out_again_and_the_others_are_not(tmp_path, here):
    seen = []

    def dies_once(task):
        seen.append(task.due[0].person_id)
        if seen.count("b") == 1 and seen[-1] == "b":
            raise RuntimeError("the worker is gone")
        return worked(task)

    done = list(spread(tasks(tmp_path, ["a"], ["b"], ["c"]), settled(tmp_path), pytest.fail, never, dies_once))
    assert sum(each.persons for each in done) == 3
    assert sorted(seen) == ["a", "b", "b", "c"]
    assert here == [None, None]


def test_whoever_kills_every_worker_is_named_and_the_rest_of_their_task_is_done(tmp_path, here):
    def dies_with_b(task):
        if any(each.person_id == "b" for each in task.due):
            raise RuntimeError("the worker is gone")
        return worked(task)

    def gone(task):
        return NightOfPersons(failed=1, held=[each.person_id for each in task.due])

    done = list(spread(tasks(tmp_path, ["a", "b", "c"]), settled(tmp_path), gone, never, dies_with_b))
    assert sum(each.persons for each in done) == 2
    assert [name for each in done for name in each.held] == ["b"]


def test_told_to_stop_no_more_is_given_out(tmp_path, here):
    done = []
    for each in spread(
        tasks(tmp_path, *([name] for name in "abcdefgh")), settled(tmp_path), pytest.fail, lambda: len(done) > 1, worked
    ):
        done.append(each)
    assert 2 <= len(done) < 8


def test_a_fault_of_the_whole_home_in_a_worker_ends_the_pass_with_its_mend(tmp_path):
    from gramrise.nightly.workers.task import work_on

    [asked] = tasks(tmp_path / "nowhere", ["a"])
    what, mend, code = work_on(asked).stopped_by
    assert code == "no_home"
    assert "gramrise person add" in mend
    assert what


def test_processes_leave_what_one_process_leaves_though_one_of_them_is_killed(tmp_path):
    alone = make_home(tmp_path / "alone")
    beside = copy_of(alone, tmp_path / "beside")
    with Store.open(alone) as store:
        run_night(store, alone, SUNDAY)
    text = (beside / "gramrise.toml").read_text("utf-8")
    told = '[nightly]\nworkers = "processes"\nworker_processes = 2\npersons_per_task = 1\n'
    (beside / "gramrise.toml").write_text(text.replace("[nightly]\n", told), encoding="utf-8")
    killed = []

    def kill_one():
        for _ in range(600):
            for worker in multiprocessing.active_children():
                os.kill(worker.pid, signal.SIGKILL)
                killed.append(worker.pid)
                return
            time.sleep(0.05)

    killer = threading.Thread(target=kill_one)
    killer.start()
    with Store.open(beside) as store:
        night = run_night(store, beside, SUNDAY)
        assert len(store.runs.parts(store.runs.latest(NIGHTLY).run_id)) == 2
    killer.join()
    assert len(killed) == 1
    assert (night.persons, night.failed) == (2, 0)
    assert state_of(beside) == state_of(alone)


def test_a_person_whose_worker_always_dies_is_a_failed_night_with_a_name(tmp_path, here, monkeypatch):
    home = Path(tmp_path / "home")
    settings = settled(home, more='workers = "processes"')
    with Store.open(home) as store:
        store.save_person(child())

        def dies(_task):
            raise RuntimeError("killed")

        monkeypatch.setattr(spreading.spread, "__defaults__", (dies,))
        night = run_night(store, home, NOW, settings=settings)
        assert (night.persons, night.failed) == (0, 1)
        [part] = store.runs.parts(store.runs.latest(NIGHTLY).run_id)
        assert (part.person_id, part.code) == ("mia", "worker_died")
        assert "died each time" in night.held[-1]
