"""The sample families' logs dropped into the inboxes as time goes by, under the schedule and a clock of our own."""

import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from gramrise.nightly.schedule import Looking, WhenDue
from gramrise.nightly.settings import nightly_settings
from gramrise.store import Store

SAMPLES = Path(__file__).parents[2] / "sample_exports"
SETTINGS = """
[nightly]
rest_seconds = 0
look_every_minutes = 1440
[nightly.recipients]
robin = [{ address = "robin.family@example.org" }]
kim = [{ address = "kim.family@example.org" }]
"""
A_DATE = re.compile(r"(\d{4})-(\d\d)-(\d\d)|(\d\d)\.(\d\d)\.(\d{4})")
WEEK = timedelta(days=7)
START = datetime(2025, 8, 31, 20, tzinfo=UTC)  # the evening of the samples' first Sunday, before the first mail
WEEKS = 12


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
    """Time goes by in steps of a day or a week: logs are dropped, the schedule looks whenever its trigger fires."""
    with Store.open(home) as store:
        for family in families:
            store.save_person(family.person)
    settings = nightly_settings(home)
    time_is = [START]
    looking, trigger = Looking(home, settings, now=lambda: time_is[0]), WhenDue(home, settings)
    dropped, at = date(2025, 8, 25), START
    while at <= until:
        drop(home, families, dropped, at.date())
        dropped = at.date()
        # Woken once a week, the machine looks once more five hours later: evening in the Americas.
        end = at + (step if step < WEEK else timedelta(hours=5))
        time_is[0] = at
        while time_is[0] < end:
            looking.look()
            time_is[0] = min(end, trigger.get_next_fire_time(time_is[0], time_is[0]))
        if step == WEEK:
            looking.look()
        at += step
