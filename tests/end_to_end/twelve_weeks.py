"""The sample families' logs dropped into the inboxes as time goes by, under the real schedule and a frozen clock."""

import re
from datetime import UTC, date, datetime, timedelta

from apscheduler.executors.debug import DebugExecutor
from apscheduler.schedulers.base import BaseScheduler
from freezegun import freeze_time

from gramrise.nightly.schedule import Looking, add_job
from gramrise.nightly.settings import nightly_settings
from gramrise.store import Store

A_DATE = re.compile(r"(\d{4})-(\d\d)-(\d\d)|(\d\d)\.(\d\d)\.(\d{4})")
WEEK = timedelta(days=7)
START = datetime(2025, 8, 31, 20, tzinfo=UTC)  # the evening of the samples' first Sunday, before the first mail
WEEKS = 12


class ByHand(BaseScheduler):
    """A scheduler without threads or sleep: `wake` runs what is due at the frozen now."""

    def wakeup(self):
        pass

    def shutdown(self, wait=True):
        super().shutdown(wait)

    def wake(self):
        return self._process_jobs()


def sliced(text):
    """A log's lines by local date; lines before the first date head every slice."""
    head, by_day, day = [], {}, None
    for line in text.splitlines():
        found = A_DATE.search(line)
        if found:
            parts = [int(part) for part in found.groups() if part]
            day = date(*(parts if parts[0] > 31 else parts[::-1]))
        (head if day is None else by_day.setdefault(day, [])).append(line)
    return head, by_day


def drop(home, families, first, last):
    """Puts what was logged on the local dates [first, last) into the inboxes, a file a log."""
    for family in families:
        folder = home / "inbox" / family.person.person_id
        folder.mkdir(parents=True, exist_ok=True)
        for path in family.files:
            head, by_day = sliced(path.read_text("utf-8"))
            lines = [line for day in sorted(by_day) if first <= day < last for line in by_day[day]]
            if lines:
                file = folder / f"{path.stem}-{first}{path.suffix}"
                file.write_text("\n".join([*head, *lines]) + "\n", encoding="utf-8")


def live(home, families, step, until=START + (WEEKS - 1) * WEEK + timedelta(hours=12)):
    """Time goes by in steps of a day or a week: logs are dropped, the schedule wakes for whatever is due."""
    with Store.open(home) as store:
        for family in families:
            store.save_person(family.person)
    with freeze_time(START) as now:
        scheduler = ByHand(timezone=UTC)
        scheduler.add_executor(DebugExecutor())
        add_job(scheduler, Looking(home, nightly_settings(home)))
        scheduler.start()
        dropped, at = date(2025, 8, 25), START
        while at <= until:
            now.move_to(at)
            drop(home, families, dropped, at.date())
            dropped = at.date()
            scheduler.wake()
            (job,) = scheduler.get_jobs()
            while step < WEEK and job.next_run_time < at + step:  # what falls due before the next drop
                now.move_to(job.next_run_time)
                scheduler.wake()
                (job,) = scheduler.get_jobs()
            if step == WEEK:  # the machine was asleep all week; it looks once more an evening later, for the Americas
                now.move_to(at + timedelta(hours=5))
                scheduler.wake()
            at += step
        scheduler.shutdown()
