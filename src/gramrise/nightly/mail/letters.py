"""The weekly letters: which weeks are owed to whom, and each letter written once with its message id."""

import hashlib
from datetime import date, datetime, timedelta
from pathlib import Path

from gramrise.config.settings import load
from gramrise.domain.person import Person, noon_there
from gramrise.domain.problems import CouldNotRun, not_written
from gramrise.nightly.due import latest_week_due
from gramrise.nightly.mail.weekly import view_of_week, write_report
from gramrise.nightly.settings import NightlySettings, wire_form
from gramrise.report import ReportSettings
from gramrise.store import WEEKLY, Letter, PersonRun, Store

WEEK = timedelta(days=7)
REPORTS = "reports"
# Our choice: a week whose readings end so shortly before its last noon is whole enough; a sensor may be new.
LEAST_MISSING = timedelta(hours=3)
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
    return store.has_inputs(person.person_id, *_noons(person, week_end))


def _noons(person: Person, week_end: date) -> tuple[datetime, datetime]:
    """When the first of a week's nights begins and the last one ends."""
    return noon_there(person.zone, week_end - WEEK), noon_there(person.zone, week_end)


def early_weeks(store: Store, now_utc: datetime, settings: NightlySettings) -> list[PersonRun]:
    """Weeks written by a clock that was ahead, before all of their readings were there.

    Known by two things together: they were done later than it is now, and the latest reading then lay before the week's
    last noon. A clock that is set back after a whole week was written owes nothing.
    """
    done = store.runs.done_after(WEEKLY, now_utc + timedelta(minutes=settings.clock_jump_minutes))
    persons = {person.person_id: person for person in store.persons()} if done else {}
    return [part for part in done if part.person_id in persons and not _was_whole(part, persons[part.person_id])]


def _was_whole(part: PersonRun, person: Person) -> bool:
    _, noon = _noons(person, part.for_on)
    return part.data_until_utc is not None and part.data_until_utc >= noon - LEAST_MISSING


def owe_early_weeks_again(store: Store, now_utc: datetime, settings: NightlySettings) -> None:
    """Makes such weeks owed again, under another message id: the whole week is another letter than its beginning."""
    for part in early_weeks(store, now_utc, settings):
        store.outbox.set_apart(part.person_id, WEEKLY, part.for_on)
        store.runs.owe_again(WEEKLY, part)


def owe_empty_weeks_again(store: Store, persons: list[Person], now_utc: datetime, settings: NightlySettings) -> None:
    """Makes weeks owed again that were told without any reading, for none had come by then, and have some now."""
    known = {person.person_id: person for person in persons}
    first = now_utc.date() - (settings.most_weeks_caught_up + 1) * WEEK
    for part in store.runs.parts_of_kind(WEEKLY, first):
        if part.person_id not in known:
            continue
        begins, ends = _noons(known[part.person_id], part.for_on)
        told_some = part.data_until_utc is not None and part.data_until_utc >= begins
        if not told_some and store.has_readings(part.person_id, begins, ends):
            store.outbox.set_apart(part.person_id, WEEKLY, part.for_on)
            store.runs.owe_again(WEEKLY, part)


def write_week(
    store: Store, home: Path, person: Person, week: date, now_utc: datetime, settings: NightlySettings
) -> int:
    """Puts one week's letters into the outbox; where nobody gets mail, the report's files into the home. How many.

    raises  CouldNotRun (code report_not_written) where the folder of reports takes no file
    """
    view = view_of_week(store, person.person_id, week, now_utc, home)
    recipients = settings.weekly_recipients(person.person_id)
    written = 0
    if recipients:
        from gramrise.report import compose

        sender = wire_form(settings.smtp.sender_address or NOBODY)
        report_settings = load("report", ReportSettings, home)
        letters = []
        for recipient in recipients:
            message_id = message_id_of(store, person, week, recipient.address, sender)
            message = compose(
                view,
                wire_form(recipient.address),
                message_id=message_id,
                date=now_utc,
                sender=sender,
                sender_name=settings.smtp.sender_name,
                settings=report_settings,
            )
            letters.append(
                Letter(message_id, person.person_id, WEEKLY, week, recipient.address, recipient.role, bytes(message))
            )
        written = store.outbox.put(letters, now_utc)
    else:
        try:
            write_report(view, home / REPORTS, home=home)
        except OSError as problem:  # the folder's trouble, not the home's: nobody else's letters wait for it
            mend = "make room there or look at its rights; the next night writes the report"
            raise CouldNotRun(not_written(REPORTS, problem), mend, "report_not_written") from problem
    return written


def message_id_of(store: Store, person: Person, week: date, address: str, sender: str) -> str:
    """The same for the same letter however often it is written, and nothing can be read out of it."""
    told = f"{store.runs.home_mark()} {WEEKLY} {person.person_id} {week.isoformat()} {address}"
    editions = store.outbox.editions(person.person_id, WEEKLY, week)
    if editions:
        told += f" {editions}"
    return f"<{hashlib.sha256(told.encode()).hexdigest()[:32]}@{sender.rpartition('@')[2]}>"
