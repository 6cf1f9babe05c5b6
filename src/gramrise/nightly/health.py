"""What would keep the service from running, each with a code and a sentence; and a small file for monitoring."""

import json
import os
import shutil
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from itertools import groupby
from pathlib import Path
from typing import Final

from gramrise.config.private_files import write_whole
from gramrise.config.settings import SETTINGS_FILE, database_url
from gramrise.domain.person import Person
from gramrise.domain.problems import CouldNotRun, GramriseError, WrongUse
from gramrise.nightly import inbox
from gramrise.nightly.clock import latest_jump
from gramrise.nightly.family_facts import still_missing, waiting
from gramrise.nightly.mail.password import ANYBODY_ELSE, smtp_password
from gramrise.nightly.restore import restore_untold
from gramrise.nightly.settings import NightlySettings, nightly_settings
from gramrise.report import ScreenWords, screen_words
from gramrise.store import (
    DATABASE_FILE,
    GIVEN_UP,
    NEWEST_STEP,
    NIGHTLY,
    SENDING,
    WAITING,
    WEEKLY,
    Store,
    may_only_be_read,
    refuse_damaged,
    refuse_gone,
    refuse_half_restored,
    refuse_other_tables,
    restore_left_over,
    step_of_file,
    step_on_server,
)

FILE: Final = "health.json"
# With less than this free the database cannot grow by what one entry needs (`store.troubles`).
_NEXT_TO_NOTHING_MB: Final = 0.256
# Where mail that does not go out is looked into: what is told of late ones, and of those that are tried again.
_LOOK_AT_MAIL: Final = (
    "To mend: look at [nightly.smtp] in gramrise.toml.",
    "It is tried again by itself; where it stays so, look at [nightly.smtp] in gramrise.toml.",
)
_LOOK_AT_OUTBOX: Final = (
    "To mend: look at the folder `outbox` and its disk.",
    "It is tried again by itself; where it stays so, look at the folder `outbox` and its disk.",
)
# Findings with which nothing can run at all.
GRAVE: Final = {
    "home_unreadable",
    "no_home",
    "database_damaged",
    "database_gone",
    "database_locked",
    "schema_newer",
    "settings_wrong",
    "disk_full",
    "disk_read_only",
    "disk_trouble",
    "restore_cut_off",
    "schema_damaged",
    "driver_missing",
    "no_database",
    "server_crowded",
    "server_gone",
    "server_refused",
    "server_rights",
}


@dataclass(frozen=True, slots=True)
class HealthFinding:
    code: str
    sentence: str

    def as_dict(self) -> dict[str, str]:
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Health:
    findings: tuple[HealthFinding, ...]
    missing: tuple[HealthFinding, ...] = ()  # what cards and reports lack; no trouble of the service

    @property
    def exit_status(self) -> int:
        """0 all well; 1 something wants looking after; 3 nothing can run."""
        if any(finding.code in GRAVE for finding in self.findings):
            return 3
        return 1 if self.findings else 0


def check_health(
    home: Path, now_utc: datetime, settings: NightlySettings | None = None, *, whole: bool = True
) -> Health:
    """Everything that wants looking after. Changes nothing; old tables are left to the next command.

    whole   read the whole database for damage; False looks at its first pages only, which costs no time
    """
    found = tuple(_all(home, now_utc, settings, whole))
    return Health(found, () if any(each.code in GRAVE | {"schema_old"} for each in found) else _missing(home, now_utc))


def _missing(home: Path, now_utc: datetime) -> tuple[HealthFinding, ...]:
    try:
        with Store.open(home, create=False) as store:
            return tuple(HealthFinding(*named) for named in still_missing(store.persons(), now_utc))
    except CouldNotRun:
        return ()  # told among the findings


def write_health_file(home: Path, now_utc: datetime, settings: NightlySettings | None = None) -> Health:
    """Checks all but the depths of the database, and writes `health.json`: codes with counts, no names, no values."""
    found = check_health(home, now_utc, settings, whole=False)
    codes = [finding.code for finding in found.findings]
    status = {0: "well", 1: "attention", 3: "could_not_run"}[found.exit_status]
    document = {
        "at_utc": now_utc.isoformat(timespec="seconds"),
        "status": status,
        "exit_status": found.exit_status,
        "findings": {code: codes.count(code) for code in dict.fromkeys(codes)},
    }
    write_whole(home / FILE, json.dumps(document, indent=1).encode() + b"\n")
    return found


def _all(home: Path, now_utc: datetime, settings: NightlySettings | None, whole: bool) -> Iterator[HealthFinding]:
    try:
        settings = settings or nightly_settings(home)
    except WrongUse as wrong:
        yield HealthFinding("settings_wrong", str(wrong))
        return
    found = list(_surroundings(home, settings, whole))
    yield from found
    if any(finding.code in GRAVE | {"schema_old"} for finding in found):
        return
    try:
        with Store.open(home, create=False) as store:
            yield from _service(store, home, now_utc, settings)
            if whole:
                yield from _remembered(store)
    except CouldNotRun as trouble:
        yield HealthFinding(trouble.code, str(trouble))


def _surroundings(home: Path, settings: NightlySettings, whole: bool) -> Iterator[HealthFinding]:
    """Folder, file, disk and tables, without opening the store."""
    url = database_url(home)
    if url is not None:
        yield from _server(home, url, settings)
        return
    path = home / DATABASE_FILE
    try:
        there = path.exists()
        if there and not os.access(path, os.R_OK | os.W_OK):
            raise PermissionError
        os.listdir(home)
    except PermissionError:
        if may_only_be_read(home):
            yield HealthFinding(
                "disk_read_only",
                f"The disk that holds {home} may only be read: nothing can be logged, and what was saved is still "
                "there. To mend: mount it for writing, or name a home elsewhere with --home.",
            )
            return
        yield HealthFinding(
            "home_unreadable",
            f"{home} cannot be read and written by this user. To mend: let the user who runs gramrise own it.",
        )
        return
    except FileNotFoundError:
        there = False
    try:
        refuse_half_restored(home)
        refuse_gone(home)
    except CouldNotRun as cut_off:
        yield HealthFinding(cut_off.code, str(cut_off))
        return
    if not there:
        yield HealthFinding("no_home", f"There is no database in {home}. To mend: gramrise person add, or --home.")
        return
    left_over = restore_left_over(home)
    if left_over:
        yield HealthFinding("restore_left_over", left_over)
    if restore_untold(home):
        yield HealthFinding(
            "restore_untold",
            "A restore was cut off before it named what came in since that backup and is not in it. To mend: run "
            "`gramrise restore` again with the same backup; it names that then.",
        )
    yield from _open_to_others(home, path)
    yield from _room(home, settings)
    yield from _database(path, whole)


def _open_to_others(*places: Path) -> Iterator[HealthFinding]:
    for place in places:
        if place.exists() and place.stat().st_mode & ANYBODY_ELSE:
            yield HealthFinding("home_open", f"Others can reach {place}. To mend: chmod go-rwx {place}")


def _room(home: Path, settings: NightlySettings) -> Iterator[HealthFinding]:
    free_mb = shutil.disk_usage(home).free / 1e6
    if free_mb < _NEXT_TO_NOTHING_MB:
        yield HealthFinding(
            "disk_full", "The disk is full: nothing more can be logged. To mend: make room; what was saved is there."
        )
    elif free_mb < settings.disk_free_mb:
        yield HealthFinding("disk_nearly_full", f"Only {free_mb:.0f} MB are free on the disk. To mend: make room.")


def _server(home: Path, url: str, settings: NightlySettings) -> Iterator[HealthFinding]:
    """As `_surroundings`, where a server keeps the rows. Its own disk and backups are its administrator's to watch."""
    yield from _open_to_others(home, home / SETTINGS_FILE)
    yield from _room(home, settings)
    try:
        standing = step_on_server(url)
    except GramriseError as trouble:
        yield HealthFinding(trouble.code, str(trouble))
        return
    if standing is None:
        yield HealthFinding("no_home", "The database holds no tables yet. To mend: gramrise person add.")
    yield from _old_step(standing)


def _old_step(standing: str | None) -> Iterator[HealthFinding]:
    if standing is not None and standing < NEWEST_STEP:
        yield HealthFinding(
            "schema_old",
            f"The tables are at step {standing}, this gramrise has {NEWEST_STEP}. "
            "The next command brings them up to date; make a backup before.",
        )


def _database(path: Path, whole: bool) -> Iterator[HealthFinding]:
    try:
        if whole:
            refuse_damaged(path, whole=True)
        standing = step_of_file(path)
        if standing == NEWEST_STEP:
            refuse_other_tables(path)
    except CouldNotRun as trouble:
        yield HealthFinding(trouble.code, str(trouble))
        return
    yield from _old_step(standing)


def _service(store: Store, home: Path, now_utc: datetime, settings: NightlySettings) -> Iterator[HealthFinding]:
    persons = store.persons()
    for person_id in store.being_forgotten():
        told = f"Forgetting '{person_id}' was cut off; files of theirs may be left."
        yield HealthFinding("forgetting_cut_off", f"{told} To mend: gramrise forget {person_id}")
    if store.trail.can_be_edited():
        yield HealthFinding(
            "audit_editable",
            "The database user of this home could change the audit trail. To mend: let the server's administrator run "
            "what `gramrise audit --sql` prints.",
        )
    yield from _nights(store, home, now_utc, settings)
    for part in store.runs.failing(NIGHTLY):
        yield HealthFinding("person_failed", f"The last night failed for {part.person_id}: {part.sentence}")
    for part in store.runs.failing(WEEKLY):
        told = f"The report to {part.for_on} could not be written for {part.person_id}: {part.sentence}"
        yield HealthFinding("report_failed", told)
    yield from (HealthFinding("address_wrong", sentence) for sentence in settings.wrong_addresses())
    yield from _mail(store, now_utc, settings)
    minutes = latest_jump(store, now_utc, settings)
    if minutes is not None:
        moved = f"{abs(minutes)} minutes {'forward' if minutes > 0 else 'back'}"
        yield HealthFinding(
            "clock_jumped",
            f"The machine's clock was moved {moved}. To mend: check its date, time and zone.",
        )
    for person in persons:
        last = store.last_reading_at(person.person_id)
        if last is not None and now_utc - last > timedelta(days=settings.no_readings_days):
            words = screen_words(person.language)
            at = words.time(last.astimezone(person.zone_now()))
            yield HealthFinding("no_readings", words.say("check.no_readings", person=person.person_id, at=at))
    for named in waiting(store, persons, now_utc, settings):
        yield HealthFinding(*named)
    from gramrise.intake import load_layouts

    try:
        load_layouts(home)
    except WrongUse as trouble:
        yield HealthFinding("layout_broken", f"No file of an inbox is read. {trouble}")
    for code, sentences in (
        ("inbox_shared", inbox.shared_folders(home, persons).values()),
        ("inbox_closed", inbox.closed_inboxes(home, persons)),
        ("inbox_left_alone", inbox.left_alone(home, persons)),
        ("inbox_for_nobody", inbox.for_nobody(home, persons)),
    ):
        yield from (HealthFinding(code, sentence) for sentence in sentences)
    yield from _waiting(home, persons, settings)
    held = inbox.held_files(home)
    if held:
        yield HealthFinding("inbox_held", _words(persons).say("check.inbox_held", count=held))


def _remembered(store: Store) -> Iterator[HealthFinding]:
    """Findings and remembered results against their hashes; what does not agree is computed again, never shown."""
    for person_id, blocks in groupby(store.verify_blocks(), key=lambda each: each.person_id):
        kinds = ", ".join(sorted({each.kind for each in blocks}))
        yield HealthFinding(
            "findings_damaged",
            f"{person_id}: what was found does not agree with its check sums ({kinds}) and is not used. "
            "To mend: gramrise nightly, which finds it again; if it comes back, look at the disk.",
        )


def _waiting(home: Path, persons: list[Person], settings: NightlySettings) -> Iterator[HealthFinding]:
    """Files that were not taken in yet, and people about whom mails are promised and nobody gets them."""
    files = inbox.waiting_files(home, persons)
    if files:
        yield HealthFinding("inbox_waiting", _words(persons).say("check.inbox_waiting", count=files))
    known = {person.person_id for person in persons}
    for named in settings.recipients:
        if named not in known:
            yield HealthFinding(
                "recipients_of_nobody",
                f"[nightly.recipients] names '{named}', whom nobody knows here: nobody gets that mail. To mend: write "
                "the ID as gramrise person list shows it.",
            )
    for person in persons:
        if settings.weekly_for_roles and not settings.weekly_recipients(person.person_id):
            line = f'{person.person_id} = [{{ address = "...", role = "parent" }}]'
            told = screen_words(person.language).say("check.nobody_gets_mail", person=person.person_id, line=line)
            yield HealthFinding("nobody_gets_mail", told)


def _words(persons: list[Person]) -> ScreenWords:
    """What is told of the whole household is told in the language of its first person."""
    return screen_words(persons[0].language if persons else "en")


def _nights(store: Store, home: Path, now_utc: datetime, settings: NightlySettings) -> Iterator[HealthFinding]:
    """Whether the inbox is looked into at all: a service that once ran has stopped, or files lie there for days."""
    longest = timedelta(hours=settings.no_night_hours)
    last = store.runs.latest(NIGHTLY)
    stopped = last is not None and now_utc - last.started_at_utc > longest
    never = last is None and inbox.oldest_age(home, store.persons()) > longest
    if stopped or never:
        since = f"since {last.started_at_utc:%a %d %b %Y %H:%M} UTC" if last else "ever"
        yield HealthFinding(
            "inbox_not_reached",
            f"No nightly pass came to its end {since}. To mend: start `gramrise schedule`, or run `gramrise nightly`.",
        )


def _given_up(store: Store, now_utc: datetime, settings: NightlySettings) -> Iterator[HealthFinding]:
    """Letters that are not tried any more, for as long as their week would still be caught up."""
    longest = timedelta(weeks=settings.most_weeks_caught_up)
    for letter in store.outbox.all(GIVEN_UP):
        if letter.written_at_utc is not None and now_utc - letter.written_at_utc > longest:
            continue
        week = f"The mail about {letter.person_id} to {letter.for_on} for {letter.recipient} is not tried any more"
        if letter.unanswered >= settings.most_unanswered:
            told = f"{week}: handed over whole {letter.unanswered} times, and no answer was heard ({letter.trouble})"
            yield HealthFinding("mail_unanswered", f"{told}. To mend: ask whether it came; else gramrise report.")
        else:
            told = f"{week}: {letter.trouble}"
            mend = "To mend: look at the address in gramrise.toml; gramrise report writes that week anew."
            yield HealthFinding("mail_given_up", f"{told}. {mend}")


def _lost(store: Store, now_utc: datetime, settings: NightlySettings) -> Iterator[HealthFinding]:
    """Weeks whose letters were written and are in no state at all: somebody emptied the outbox."""
    since = now_utc.date() - timedelta(weeks=settings.most_weeks_caught_up + 1)
    latest = {(part.person_id, part.for_on): part for part in store.runs.parts_of_kind(WEEKLY, since)}
    for (person_id, week), part in latest.items():
        if store.outbox.written(person_id, WEEKLY, week) < part.letters:
            yield HealthFinding(
                "mail_lost",
                f"Mails about {person_id} to {week} were written and are in the outbox no more; whether they were sent "
                f"cannot be told. To mend: gramrise report --person {person_id} --week-end {week}",
            )


def _mail(store: Store, now_utc: datetime, settings: NightlySettings) -> Iterator[HealthFinding]:
    waiting = [letter for letter in store.outbox.all() if letter.state in {WAITING, SENDING}]
    longest = timedelta(hours=settings.mail_failing_hours)
    late = [each for each in waiting if each.written_at_utc is not None and now_utc - each.written_at_utc > longest]
    mend, again = _LOOK_AT_MAIL if settings.smtp.host else _LOOK_AT_OUTBOX
    if late:
        said = f": {late[0].trouble}" if late[0].trouble else ""
        yield HealthFinding("mail_failing", f"{len(late)} mails wait to be taken{said}. {mend}")
    elif tried := [each for each in waiting if each.trouble]:
        told = f"Mails could not be sent yet, {len(tried)} wait: {tried[0].trouble}"
        yield HealthFinding("mail_waiting", f"{told}. {again}")
    yield from _given_up(store, now_utc, settings)
    yield from _lost(store, now_utc, settings)
    if settings.smtp.host and settings.smtp.user:
        try:
            smtp_password(settings.smtp)
        except GramriseError as trouble:
            yield HealthFinding(trouble.code, str(trouble))
