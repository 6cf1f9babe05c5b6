"""The long-running schedule under a frozen clock: every night once, however the clocks and the machine behave."""

import os
import signal
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock

import pytest
from apscheduler.executors.debug import DebugExecutor
from apscheduler.schedulers.base import BaseScheduler
from freezegun import freeze_time
from support.nightly_home import child, drop, settled

from gramrise.nightly import schedule
from gramrise.nightly.schedule import Looking, add_job
from gramrise.nightly.workers import persons
from gramrise.store import Store
from gramrise.store.runs import NIGHTLY


class ByHand(BaseScheduler):
    """A scheduler without threads or sleep: `wake` runs what is due at the frozen now."""

    def wakeup(self):
        pass

    def shutdown(self, wait=True):
        super().shutdown(wait)

    def wake(self):
        return self._process_jobs()


def nights_of(store, who):
    return sorted(day for person, day in store.runs.done_since(NIGHTLY, date(2020, 1, 1)) if person == who)


def days(first, n):
    return [first + timedelta(days=i) for i in range(n)]


@pytest.fixture
def light(monkeypatch):
    """Nights without detect and estimate: only when they run is looked at here."""
    ran = []
    monkeypatch.setattr(persons, "bring_up_to_date", lambda _store, who, now, *_, **__: ran.append((who, now)))
    return ran


def scheduled(home, settings=None):
    scheduler = ByHand(timezone=UTC)
    scheduler.add_executor(DebugExecutor())
    add_job(scheduler, Looking(home, settings or settled(home)))
    scheduler.start()
    return scheduler


@pytest.mark.parametrize(
    "start",
    [
        datetime(2026, 3, 7, 12, tzinfo=UTC),  # Chicago goes forward on the 8th
        datetime(2026, 3, 28, 12, tzinfo=UTC),  # Berlin goes forward on the 29th
        datetime(2026, 10, 24, 12, tzinfo=UTC),  # Berlin goes back on the 25th
        datetime(2026, 10, 31, 12, tzinfo=UTC),  # Chicago goes back on 1 November
        datetime(2028, 2, 28, 12, tzinfo=UTC),  # a leap day
        datetime(2026, 12, 31, 12, tzinfo=UTC),  # the turn of the year
    ],
    ids=lambda at: f"{at:%Y-%m-%d}",
)
@pytest.mark.parametrize("night_at", [clock(2, 30)], ids=lambda at: f"{at:%H%M}")
def test_every_night_is_done_once_across_clock_changes_leap_day_and_new_year(store, home, light, start, night_at):
    settings = settled(home).model_copy(update={"night_at": night_at, "look_every_minutes": 24 * 60})
    end = start + timedelta(days=3)
    with freeze_time(start) as now:
        scheduler = scheduled(home, settings)
        (job,) = scheduler.get_jobs()
        while job.next_run_time <= end:
            now.move_to(job.next_run_time)
            scheduler.wake()
            (job,) = scheduler.get_jobs()
        scheduler.shutdown()
    # At noon UTC the night's hour has passed in both zones, on the first day and on the last.
    for who in ("mia", "tom"):
        assert nights_of(store, who) == days(start.date(), 4)
        assert len([each for each, _ in light if each == who]) == 4


def test_a_machine_asleep_for_a_week_catches_up_with_one_pass(store, home, light):
    with freeze_time(datetime(2026, 3, 10, 12, tzinfo=UTC)) as now:
        scheduler = scheduled(home)
        scheduler.wake()
        light.clear()
        now.tick(timedelta(days=7))
        for _ in range(5):
            scheduler.wake()
        scheduler.shutdown()
    assert sorted(who for who, _ in light) == ["mia", "tom"]


def test_a_clock_set_back_a_day_repeats_no_night(store, home, light):
    with freeze_time(datetime(2026, 3, 10, 12, tzinfo=UTC)) as now:
        scheduler = scheduled(home)
        scheduler.wake()
        done = list(light)
        now.move_to(datetime(2026, 3, 9, 12, tzinfo=UTC))
        scheduler.wake()
        now.move_to(datetime(2026, 3, 10, 12, 30, tzinfo=UTC))
        scheduler.wake()
        scheduler.shutdown()
    # The day before had not been done by this schedule, so at most that true night is added; the 10th is not repeated.
    assert [each for each in light[len(done) :] if each[1].day == 10] == []


def test_it_wakes_for_each_persons_own_morning(store, home):
    trigger = schedule.WhenDue(home, settled(home).model_copy(update={"look_every_minutes": 24 * 60}))
    at = datetime(2026, 3, 2, tzinfo=UTC)
    wakes = []
    for _ in range(2):
        at = trigger.get_next_fire_time(at, at)
        wakes.append(at)
    assert wakes == [datetime(2026, 3, 2, 4, 30, tzinfo=UTC), datetime(2026, 3, 2, 11, 30, tzinfo=UTC)]


def test_a_home_that_cannot_be_used_is_told_and_looked_at_again(store, home, monkeypatch):
    looking = Looking(home, settled(home))
    path = home / "gramrise.db"
    store.close()
    for side in home.glob("gramrise.db-*"):
        side.unlink()
    whole = path.read_bytes()
    path.write_bytes(b"broken" * 1000)
    assert looking.look() is None
    assert '"could_not_run"' in (home / "health.json").read_text()
    path.write_bytes(whole)
    assert looking.look() is not None


def test_once_does_what_is_due_and_ends(home):
    settled(home)
    with Store.open(home) as store:
        store.save_person(child())
    assert schedule.run_schedule(home, once=True) == 0
    with Store.open(home) as store:
        assert len(nights_of(store, "mia")) == 1


def test_once_tells_what_was_held(home):
    settled(home)
    with Store.open(home) as store:
        store.save_person(child())
    drop(home, "mia", "letter.csv", "what is this?\n")
    told = []
    assert schedule.run_schedule(home, once=True, tell=told.append) == 1
    (night,) = told
    assert "letter.csv" in night.held[0]


def test_told_to_stop_in_the_middle_of_work_it_ends_in_good_order(home):
    settled(home)
    with Store.open(home) as store:
        for number in range(30):
            store.save_person(child(f"c{number}"))
    slow = (
        "import sys, time\nfrom pathlib import Path\nfrom gramrise.nightly import schedule\n"
        "from gramrise.nightly.workers import persons\n"
        "def slow(*_, **__):\n    print('working', flush=True); time.sleep(0.2)\n"
        f"persons.bring_up_to_date = slow\nsys.exit(schedule.run_schedule(Path({str(home)!r})))"
    )
    running = subprocess.Popen(
        [sys.executable, "-c", slow], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=dict(os.environ)
    )
    assert running.stdout.readline() == "working\n"
    running.send_signal(signal.SIGTERM)
    done, told = running.communicate(timeout=60)
    assert running.returncode == 0, told
    assert done.count("working") < 20  # of the 30 persons of that night most were left for the next time
    assert "schedule stopped" in told
    with Store.open(home) as store:
        done = len(store.runs.done_since(NIGHTLY, date(2020, 1, 1)))
        assert 1 <= done < 30
        assert store.runs.latest(NIGHTLY) is None
