"""The weekly letters: which weeks are owed to whom, and each letter written once with its message id."""

import hashlib
from datetime import date, datetime, timedelta
from pathlib import Path

from gramrise.config.settings import load
from gramrise.domain.person import Person
from gramrise.nightly.due import latest_week_due
from gramrise.nightly.mail.weekly import view_of_week, write_report
from gramrise.nightly.settings import NightlySettings
from gramrise.report import ReportSettings
from gramrise.store import WEEKLY, Letter, Store

WEEK = timedelta(days=7)
REPORTS = "reports"
# The sender of mails that only become files: a domain no mail is ever sent to or from (RFC 2606, section 2).
NOBODY = "gramrise@gramrise.invalid"


def weeks_owed(
    store: Store, person: Person, now_utc: datetime, settings: NightlySettings, settled: set[tuple[str, date]]
) -> list[date]:
    """Last local dates of the weeks whose report is due and not in `settled`, oldest first; without data none is owed.

    settled   (person_id, week) written before, or that failed a moment ago
    """
    latest = latest_week_due(now_utc, settings, person.zone_now())
    weeks = [latest - n * WEEK for n in reversed(range(settings.most_weeks_caught_up))]
    return [week for week in weeks if (person.person_id, week) not in settled and _has_data(store, person, week)]


def _has_data(store: Store, person: Person, week_end: date) -> bool:
    """Whether the seven noons to the week's end hold a reading or a dose: an empty report is no report."""
    zone = person.zone.on_or_first(week_end) or person.zone_now()
    noons = [datetime(day.year, day.month, day.day, 12, tzinfo=zone) for day in (week_end - WEEK, week_end)]
    return store.has_inputs(person.person_id, *noons)


def write_week(
    store: Store, home: Path, person: Person, week: date, now_utc: datetime, settings: NightlySettings
) -> int:
    """Puts one week's letters into the outbox; where nobody gets mail, the report's files into the home. How many."""
    view = view_of_week(store, person.person_id, week, now_utc, home)
    recipients = settings.weekly_recipients(person.person_id)
    written = 0
    if recipients:
        from gramrise.report import compose

        sender = settings.smtp.sender or NOBODY
        report_settings = load("report", ReportSettings, home)
        letters = []
        for recipient in recipients:
            message_id = message_id_of(store, person, week, recipient.address, sender)
            message = compose(
                view, recipient.address, message_id=message_id, date=now_utc, sender=sender, settings=report_settings
            )
            letters.append(
                Letter(message_id, person.person_id, WEEKLY, week, recipient.address, recipient.role, bytes(message))
            )
        written = store.outbox.put(letters, now_utc)
    else:
        write_report(view, home / REPORTS, home=home)
    return written


def message_id_of(store: Store, person: Person, week: date, address: str, sender: str) -> str:
    """The same for the same letter however often it is written, and nothing can be read out of it."""
    told = f"{store.runs.home_mark()} {WEEKLY} {person.person_id} {week.isoformat()} {address}"
    return f"<{hashlib.sha256(told.encode()).hexdigest()[:32]}@{sender.rpartition('@')[2]}>"
