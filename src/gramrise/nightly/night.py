"""The pass over everybody: inbox, findings, weekly letters, delivery. One person's failure stops nobody else."""

import logging
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import cache, partial
from pathlib import Path

from gramrise.domain.person import Person
from gramrise.domain.problems import CouldNotRun
from gramrise.nightly import clock, health, inbox
from gramrise.nightly.due import latest_day_due
from gramrise.nightly.ingest import means_of
from gramrise.nightly.lock import only_one
from gramrise.nightly.logs import place_of, say
from gramrise.nightly.mail import letters
from gramrise.nightly.mail.delivery import Delivered, deliver
from gramrise.nightly.one_person import rules_of
from gramrise.nightly.retention import let_go
from gramrise.nightly.settings import NightlySettings, nightly_settings
from gramrise.nightly.workers import NightOfPersons, PersonDue, Tools, spread
from gramrise.nightly.workers.persons import everybody, guarded, note_end, one_night
from gramrise.nightly.workers.task import Task
from gramrise.store import FAILED, NIGHTLY, WEEKLY, Hold, PersonRun, Store


@dataclass(slots=True)
class Night:
    """What a pass did. `held` are sentences for the family: what was set aside, waits or failed."""

    persons: int = 0
    failed: int = 0
    files: int = 0
    files_held: int = 0
    for_nobody: int = 0  # files and folders in the inbox outside everybody's folder
    rows: int = 0
    letters: int = 0
    delivered: Delivered = field(default_factory=Delivered)
    stopped: bool = False
    held: list[str] = field(default_factory=list)

    @property
    def sentence(self) -> str:
        told = f"{self.persons} brought up to date; files taken in: {self.files}, new rows: {self.rows}"
        if self.files_held:
            told += f"; files held, each with its reason beside it: {self.files_held}"
        if self.for_nobody:
            told += f"; in the inbox for nobody: {self.for_nobody}"
        if self.letters or self.delivered.sent or self.delivered.waiting:
            did = "mails written into `outbox`, as no server is set" if self.delivered.as_files else "mails sent"
            told += f"; {did}: {self.delivered.sent}, waiting: {self.delivered.waiting}"
        return told + (f"; FAILED: {self.failed}." if self.failed else ".")


@dataclass(frozen=True, slots=True)
class _Pass:
    """What every step of one pass shares."""

    tools: Tools
    settings: NightlySettings
    night: Night
    stop: Callable[[], bool]
    hold: Hold
    persons: list[Person]  # everybody

    @property
    def store(self) -> Store:
        return self.tools.store

    @property
    def home(self) -> Path:
        return self.tools.home

    @property
    def now_utc(self) -> datetime:
        return self.tools.now_utc


def run_night(
    store: Store,
    home: Path,
    now_utc: datetime,
    *,
    settings: NightlySettings | None = None,
    only: set[str] | None = None,
    sleep: Callable[[float], None] = time.sleep,
    stop: Callable[[], bool] = lambda: False,
) -> Night:
    """One pass. Whatever ends it, the next one takes up what is missing and does nothing twice.

    only    ids of the persons whose night is taken in; None: everybody. Letters and delivery are for all
    stop    asked between persons; when it says so the pass ends early, in good order
    raises  CouldNotRun when another pass is at work, or for troubles of the whole home (disk full, database damaged)
    """
    settings = settings or nightly_settings(home)
    with only_one(home) as hold:
        jump = clock.look_at_clock(store, now_utc, settings)
        letters.owe_early_weeks_again(store, now_utc, settings)
        persons = store.persons()
        run_id = store.runs.begin(NIGHTLY, now_utc)
        household = cache(everybody)  # asked for each file: read once a pass
        tools = Tools(store, home, now_utc, run_id, store.runs.home_mark(), rules_of(home), means_of(home, household))
        one = _Pass(tools, settings, Night(), stop, hold, persons)
        strange = inbox.for_nobody(home, persons)
        one.night.for_nobody = len(strange)
        one.night.held += strange
        one.night.held += settings.wrong_addresses()
        one.night.held += inbox.make_inboxes(home, persons)
        if jump:
            one.night.held += inbox.bring_back_held(home, persons)
        inbox.settle_held(store, home, persons)
        inbox.remove_old_reasons(home, persons)
        one.night.held += [*inbox.shared_folders(home, persons).values(), *inbox.left_alone(home, persons)]
        _everybody(one, [each for each in persons if only is None or each.person_id in only], sleep)
        if not one.night.stopped:
            _weekly(one, persons)
            hold.still()  # before letters go out: nobody else may be sending them
            one.night.delivered = deliver(store, home, now_utc, settings)
            if one.night.delivered.trouble:
                told = f"Mails wait, as they could not be sent: {one.night.delivered.trouble}."
                one.night.held.append(f"{told} They are tried again by themselves.")
            store.runs.finish(run_id, now_utc)
            let_go(store, home, now_utc, settings)
        _tell(one)
        try:
            health.write_health_file(home, now_utc, settings)
        except OSError as problem:  # the night is done; a full disk must not make it look otherwise
            say("health file not written", logging.ERROR, place=place_of(problem))
        return one.night


def persons_due(store: Store, now_utc: datetime, settings: NightlySettings) -> set[str]:
    """Ids of those whose latest night was not taken in, and did not fail within the longest pause between tries."""
    persons = store.persons()
    nights = {p.person_id: latest_day_due(now_utc, settings.night_at, p.zone_now()) for p in persons}
    if not nights:
        return set()
    settled = store.runs.done_since(NIGHTLY, min(nights.values()))
    settled |= store.runs.failed_between(NIGHTLY, *_just_now(now_utc, settings))
    return {person_id for person_id, day in nights.items() if (person_id, day) not in settled}


def _just_now(now_utc: datetime, settings: NightlySettings) -> tuple[datetime, datetime]:
    """Since when a failure counts as a moment ago; one noted later than now was noted by a clock that was ahead."""
    return now_utc - timedelta(hours=settings.retry_longest_hours), now_utc


def weeks_due(
    store: Store, persons: list[Person], now_utc: datetime, settings: NightlySettings
) -> list[tuple[Person, date]]:
    """(person, week) of every report that is owed and did not fail within the longest pause between tries."""
    first = now_utc.date() - (settings.most_weeks_caught_up + 1) * letters.WEEK
    settled = store.runs.done_since(WEEKLY, first)
    settled |= store.runs.failed_between(WEEKLY, *_just_now(now_utc, settings))
    return [
        (person, week) for person in persons for week in letters.weeks_owed(store, person, now_utc, settings, settled)
    ]


def anything_due(store: Store, now_utc: datetime, settings: NightlySettings) -> bool:
    """Whether a pass would find anything to do for a night, a week or a letter."""
    return bool(
        persons_due(store, now_utc, settings)
        or store.outbox.due(now_utc)
        or weeks_due(store, store.persons(), now_utc, settings)
        or letters.early_weeks(store, now_utc, settings)
    )


def _everybody(one: _Pass, persons: list[Person], sleep: Callable[[float], None]) -> None:
    one.night.held += inbox.bring_back_grown(one.home, persons)
    still = inbox.lying_still(one.home, persons, one.settings.rest_seconds, sleep)
    due = [
        PersonDue(
            person.person_id,
            latest_day_due(one.now_utc, one.settings.night_at, person.zone_now()),
            tuple(still[person.person_id]),
        )
        for person in persons
    ]
    nights = _here(one, due) if one.settings.workers == "here" else _spread(one, due)
    for done in nights:
        _add(one, done)
        one.hold.still()
        if one.stop():
            one.night.stopped = True
            break


def _here(one: _Pass, due: list[PersonDue]) -> Iterator[NightOfPersons]:
    for each in due:
        if one.stop():
            one.night.stopped = True
            return
        done = NightOfPersons()
        try:
            one_night(one.tools, each, done)
        except CouldNotRun as trouble:
            _add(one, done)  # what landed before the disk was full has landed, and is told
            raise _stopped_at(one, each.person_id, trouble) from trouble
        yield done


def _spread(one: _Pass, due: list[PersonDue]) -> Iterator[NightOfPersons]:
    tools, at_once = one.tools, one.settings.persons_per_task
    tasks = [
        Task(tools.home, tools.now_utc, tools.run_id, tools.mark, tuple(due[first : first + at_once]))
        for first in range(0, len(due), at_once)
    ]

    def gone(task: Task) -> NightOfPersons:
        done = NightOfPersons()
        [each] = task.due
        said = "whoever worked on this person died each time, perhaps for want of memory; see the system's log"
        note_end(tools, done, PersonRun(each.person_id, each.day, FAILED, tools.now_utc, "worker_died", said))
        return done

    for done in spread(tasks, one.settings, gone, one.stop):
        yield done
        if done.stopped_by is not None:
            raise _stopped_at(one, done.stopped_at, CouldNotRun(*done.stopped_by))


def _weekly(one: _Pass, persons: list[Person]) -> None:
    letters.owe_empty_weeks_again(one.store, persons, one.now_utc, one.settings)
    owed = weeks_due(one.store, persons, one.now_utc, one.settings)
    if not owed:
        return
    run_id = one.store.runs.begin(WEEKLY, one.now_utc)
    tools = replace(one.tools, run_id=run_id)
    for person, week in owed:
        done = NightOfPersons()
        try:
            guarded(tools, done, person.person_id, week, partial(_one_week, one, person, week))
        except CouldNotRun as trouble:
            raise _stopped_at(one, person.person_id, trouble) from trouble
        _add(one, done)
        one.hold.still()
    one.store.runs.finish(run_id, one.now_utc)


def _one_week(one: _Pass, person: Person, week: date) -> tuple[int, datetime | None]:
    """How many letters there are of the week, and the latest reading they were written from."""
    until = one.store.last_reading_at(person.person_id)
    one.night.letters += letters.write_week(one.store, one.home, person, week, one.now_utc, one.settings)
    return one.store.outbox.written(person.person_id, WEEKLY, week), until


def _add(one: _Pass, done: NightOfPersons) -> None:
    """Counts in what came of some persons, and logs who failed."""
    night = one.night
    night.persons += done.persons
    night.failed += done.failed
    night.files += done.files
    night.files_held += done.files_held
    night.rows += done.rows
    night.held += done.held
    for told in done.failures:
        say("person failed", logging.ERROR, **told)


def _stopped_at(one: _Pass, person_id: str, trouble: CouldNotRun) -> CouldNotRun:
    """The trouble that ends a pass, with whose turn it was, what has landed by then, and what waits."""
    waiting = inbox.waiting_files(one.home, one.persons)
    told = (
        f"{trouble.what} (while {person_id} was brought up to date; brought up to date before: "
        f"{one.night.persons}, files taken in: {one.night.files}, new rows: {one.night.rows}; files that wait in the "
        f"inbox: {waiting})"
    )
    mend = f"{trouble.mend}; the next `gramrise nightly` goes on where this one stopped"
    return CouldNotRun(told, mend, trouble.code)


def _tell(one: _Pass) -> None:
    night = one.night
    say(
        "pass stopped" if night.stopped else "pass done",
        persons=night.persons,
        failed=night.failed,
        files=night.files,
        rows=night.rows,
        letters_sent=night.delivered.sent,
        letters_waiting=night.delivered.waiting,
        mail_trouble=night.delivered.trouble,
    )
