"""The long-running process: it looks, does what the database says is missing, and sleeps until the next thing is due.

The scheduler only wakes us. Every trigger is an instant in UTC, computed from each person's own clock (a trigger on a
local clock runs twice on the night the clocks go back). What a wake-up does is read from the database, so a missed
night, a killed process or a clock set back cost nothing and double nothing.
"""

import logging
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Event
from typing import Any, Final

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.base import BaseTrigger

from gramrise.domain.problems import GramriseError
from gramrise.nightly.due import next_due
from gramrise.nightly.health import write_health_file
from gramrise.nightly.logs import log_to, place_of, say
from gramrise.nightly.night import Night, anything_due, persons_due, run_night
from gramrise.nightly.settings import NightlySettings, nightly_settings
from gramrise.store import Store

JOB: Final = "look"
STOPPING: Final = {signal.SIGTERM, signal.SIGINT}


class WhenDue(BaseTrigger):  # type: ignore[misc]
    """Fires when a night, a week or a letter is due in this home, and at least every `look_every_minutes`."""

    def __init__(self, home: Path, settings: NightlySettings) -> None:
        self.home, self.settings = home, settings

    def get_next_fire_time(self, previous_fire_time: datetime | None, now: datetime) -> datetime:
        now_utc = now.astimezone(UTC)
        if previous_fire_time is None:
            return now_utc
        latest = now_utc + timedelta(minutes=self.settings.look_every_minutes)
        try:
            with Store.open(self.home) as store:
                zones = [person.zone_now() for person in store.persons()]
                letter = store.outbox.next_try()
        except GramriseError:
            return latest
        coming = [next_due(now_utc, self.settings, zones), letter]
        return min([latest, *(at for at in coming if at is not None and at > now_utc)])


class Looking:
    """What the schedule does when it wakes: nights and weeks that are due, letters that wait."""

    def __init__(
        self, home: Path, settings: NightlySettings, now: Callable[[], datetime] = lambda: datetime.now(UTC)
    ) -> None:
        self.home, self.settings, self.now = home, settings, now
        self.stopping = Event()

    def look(self) -> Night | None:
        """Does what is due. Troubles are logged, written to the health file, and met again at the next look."""
        now_utc = self.now()
        try:
            with Store.open(self.home) as store:
                if not anything_due(store, now_utc, self.settings):
                    return Night()
                due = persons_due(store, now_utc, self.settings)
                return run_night(
                    store,
                    self.home,
                    now_utc,
                    settings=self.settings,
                    only=due,
                    sleep=self._rest,
                    stop=self.stopping.is_set,
                )
        except GramriseError as trouble:
            say("could not run", logging.ERROR, code=trouble.code)
            self._try_to_tell(now_utc)
        except Exception as fault:  # noqa: BLE001 - the service outlives a fault of ours; the fault is told
            say("fault", logging.ERROR, place=place_of(fault))
        return None

    def _rest(self, seconds: float) -> None:
        """Waits for files to lie still; being told to stop ends the wait."""
        self.stopping.wait(seconds)

    def _try_to_tell(self, now_utc: datetime) -> None:
        try:
            write_health_file(self.home, now_utc, self.settings)
        except (GramriseError, OSError) as trouble:
            say("health file not written", logging.ERROR, place=place_of(trouble))


def add_job(scheduler: Any, looking: Looking) -> None:
    """Puts the one job onto a scheduler: never two at once, late ones once, however late."""
    scheduler.add_job(
        looking.look,
        WhenDue(looking.home, looking.settings),
        id=JOB,
        coalesce=True,
        max_instances=1,
        misfire_grace_time=looking.settings.misfire_grace_hours * 3600,
        replace_existing=True,
    )


def hold_signals() -> None:
    """Keeps a signal to stop until `run_schedule` asks for it: threads started after this inherit that."""
    signal.pthread_sigmask(signal.SIG_BLOCK, STOPPING)


def run_schedule(home: Path, once: bool = False, tell: Callable[[Night], None] = lambda _night: None) -> int:
    """Runs until told to stop (SIGTERM, SIGINT), or does what is due now and returns. The exit status.

    tell     called with what the one pass did, where `once`
    Told to stop in the middle of work it ends with the person at hand; what is left is due at the next start.
    raises   WrongUse for wrong settings, CouldNotRun for a home that cannot be used
    """
    log_to()
    looking = Looking(home, nightly_settings(home))
    Store.open(home).close()  # troubles at the start are told at once, not at the first look
    if once:
        night = looking.look()
        if night is None:
            return 3
        tell(night)
        return 1 if night.held else 0
    hold_signals()
    with _running(looking):
        signal.sigwait(STOPPING)  # one that came while the libraries were loaded, or just now, is waiting here
    return 0


@contextmanager
def schedule_beside(home: Path) -> Iterator[None]:
    """Does what is due while the block lasts; whoever runs the block hears signals. Ends with the person at hand.

    raises   WrongUse for wrong settings, before the block
    """
    log_to()
    with _running(Looking(home, nightly_settings(home))):
        yield


@contextmanager
def _running(looking: Looking) -> Iterator[None]:
    scheduler = BackgroundScheduler(timezone=UTC, daemon=False, executors={"default": ThreadPoolExecutor(1)})
    add_job(scheduler, looking)
    say("schedule started")
    scheduler.start()
    try:
        yield
    finally:
        looking.stopping.set()
        scheduler.shutdown(wait=True)
        say("schedule stopped")
