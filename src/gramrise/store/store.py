"""`Store`: everything a household has told and everything found, in one database. The only speaker of SQL."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import polars as pl
from sqlalchemy import Connection, Engine, select, update

from gramrise.domain.batch import Batch, ImportSummary, Quarantined, Question
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.person import Person
from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.store import (
    answers,
    asked,
    backup,
    cards,
    database,
    found,
    ledger,
    people,
    schema,
    taking_back,
    told,
    trace,
)
from gramrise.store.moments import instant, instant_or_none, stored
from gramrise.store.one_file import TakingIn
from gramrise.store.outbox import Outbox
from gramrise.store.runs import Runs

# Before any instant a log can hold: what changing a person's facts counts as changed from.
BEGINNING = 0


class Store:
    """Open it with `Store.open`, close it with `close` or a `with` block.

    Every method is one transaction. All raise CouldNotRun, saying how to mend, when the database is damaged, locked
    by another program for longer than a minute, or the disk is full; nothing is changed then.
    """

    def __init__(self, engine: Engine, home: Path) -> None:
        self.engine, self.home = engine, home
        self.runs, self.outbox = Runs(self), Outbox(self)

    @classmethod
    def open(cls, home: Path, url: str | None = None, create: bool = True) -> Self:
        """The store of a home folder, made or migrated to the newest tables where needed.

        url      an SQLAlchemy URL instead of the SQLite file in the home folder
        create   make home and database when there are none; else CouldNotRun with code no_home
        """
        path = home / database.FILE
        if not create and url is None and not path.exists():
            raise CouldNotRun(f"there is no database in {home}", "add a person first: `gramrise person add`", "no_home")
        database.make_home(home)
        if url is None:
            database.make_file(path)
        engine = database.engine_for(url or f"sqlite:///{path}")
        try:
            with database.explained(path.name):
                with engine.connect().execution_options(only_reads=True) as connection:
                    standing = database.step_of(connection)
                if standing != database.NEWEST:
                    if standing is not None and url is None:
                        backup.before_migration(home, standing)
                    database.to_newest(engine)
        except BaseException:
            engine.dispose()
            raise
        return cls(engine, home)

    def close(self) -> None:
        self.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: object, trace: TracebackType | None) -> None:
        self.close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent view of the database; other programs may write meanwhile."""
        reads_only = self.engine.execution_options(only_reads=True)
        with database.explained(database.FILE), reads_only.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: all of it happens, or nothing. Other writers wait."""
        with database.explained(database.FILE), self.engine.begin() as connection:
            yield connection

    # Persons

    def persons(self) -> list[Person]:
        """Everybody, in order of id."""
        with self.reading() as connection:
            return people.load_people(connection)

    def person(self, person_id: str) -> Person:
        """One person. Raises WrongUse for an id nobody has."""
        with self.reading() as connection:
            return people.known_person(connection, person_id)

    def save_person(self, person: Person) -> None:
        """Adds the person, or makes the stored one equal to this; what depends on their facts is found again."""
        if person.zone.latest() is None:
            raise WrongUse(f"'{person.person_id}' has no time zone", "name one: --zone Europe/Berlin")
        with self.writing() as connection:
            standing = people.load_people(connection, person.person_id)
            if standing == [person]:
                return
            people.write_person(connection, person)
            ledger.mark_changed(connection, person.person_id, BEGINNING)

    def forget(self, person_id: str) -> None:
        """Takes everything about a person out of the database, and their bytes out of the file."""
        with self.writing() as connection:
            people.known_person(connection, person_id)
            for table in (*schema.OF_A_PERSON, schema.persons):
                connection.execute(table.delete().where(table.c.person_id == person_id))
        with database.explained(database.FILE):
            database.vacuum(self.engine)

    # Inputs

    def take_in(self, batch: Batch, now_utc: datetime, dry_run: bool = False, retry: bool = False) -> ImportSummary:
        """Puts one file's batch away, whole or not at all; the same bytes a second time change nothing.

        A value known already is counted, another value for a known identity replaces it and the old one is remembered,
        values that contradict each other within the file are both kept and the last is used.
        dry_run  say what would happen, change nothing
        retry    look again at a file known by its bytes; its quarantine is replaced
        """
        with self.taking_in(now_utc, dry_run=dry_run, retry=retry) as put:
            return put.batch(batch)

    @contextmanager
    def taking_in(self, now_utc: datetime, *, dry_run: bool = False, retry: bool = False) -> "Iterator[TakingIn]":
        """One transaction for all batches of a file: `put.batch(batch)` for each. As `take_in` otherwise."""
        with database.explained(database.FILE), self.engine.connect() as connection, connection.begin() as transaction:
            yield TakingIn(connection, now_utc, dry_run, retry)
            if dry_run:
                transaction.rollback()

    def inputs(self, person_id: str) -> Inputs:
        """Everything logged for a person, as the family has since explained it. Raises WrongUse for an unknown id."""
        with self.reading() as connection:
            return told.inputs_of(connection, people.known_person(connection, person_id), None)

    def inputs_since(self, person_id: str, since_utc: datetime) -> Inputs:
        """The inputs from an instant on, that instant included; the person whole."""
        with self.reading() as connection:
            return told.inputs_of(connection, people.known_person(connection, person_id), stored(since_utc))

    def inputs_and_version(self, person_id: str) -> tuple[Inputs, int]:
        """The inputs with the number that `save_findings` wants back."""
        inputs, version, _ = self.inputs_to_find_from(person_id)
        return inputs, version

    def inputs_to_find_from(
        self, person_id: str, since: Callable[[found.Before], datetime | None] = lambda _before: None
    ) -> tuple[Inputs, int, found.Before | None]:
        """The inputs, the number that `save_findings` wants back, and what was found before: one view of all three.

        since   asked where something was found before: the instant from which the trace and what happened beside it
                are wanted, with the first food ever logged (doses always come whole); None: everything
        """
        with self.reading() as connection:
            before = found.load_before(connection, person_id)
            begin = None if before is None else since(before)
            person = people.known_person(connection, person_id)
            version = self._version(connection, person_id)
            return (
                told.inputs_of(connection, person, None if begin is None else stored(begin), whole_log=True),
                version,
                before,
            )

    def has_inputs(self, person_id: str, start_utc: datetime, end_utc: datetime) -> bool:
        """Whether a reading or a dose lies in [start, end)."""
        span = (stored(start_utc), stored(end_utc) - 1)
        with self.reading() as connection:
            for column in (schema.readings.c.at_utc, schema.doses.c.taken_at_utc):
                mine = column.table.c.person_id == person_id
                if connection.execute(select(column).where(mine, column.between(*span)).limit(1)).first() is not None:
                    return True
        return False

    def last_reading_at(self, person_id: str) -> datetime | None:
        """The instant of the latest reading; None when there is none."""
        table = schema.readings
        with self.reading() as connection:
            chosen = select(table.c.at_utc).where(table.c.person_id == person_id).order_by(table.c.at_utc.desc())
            return instant_or_none(connection.execute(chosen.limit(1)).scalar_one_or_none())

    def changed_from(self, person_id: str) -> datetime | None:
        """The earliest instant whose inputs changed since the findings were saved; None: nothing changed."""
        with self.reading() as connection:
            chosen = select(schema.persons.c.changed_from).where(schema.persons.c.person_id == person_id)
            since = connection.execute(chosen).scalar_one_or_none()
        return None if since is None else instant(since)

    def _version(self, connection: Connection, person_id: str) -> int:
        chosen = select(schema.persons.c.inputs_version).where(schema.persons.c.person_id == person_id)
        return int(connection.execute(chosen).scalar_one_or_none() or 0)

    def take_back(self, import_id: int) -> None:
        """Undoes an import: what it added goes, what it corrected stands as before, its file can be imported anew."""
        with self.writing() as connection:
            taking_back.take_back(connection, import_id)

    def imports(self, person_id: str | None = None) -> list[dict[str, Any]]:
        """The ledger: one document a file taken in, oldest first."""
        with self.reading() as connection:
            return ledger.ledger(connection, person_id)

    def quarantine(self, person_id: str | None = None) -> list[tuple[str, Quarantined]]:
        """Rows that could not be read, as (person_id, row with its trouble), oldest first."""
        with self.reading() as connection:
            return ledger.quarantined(connection, person_id)

    def corrections(self, person_id: str) -> list[dict[str, Any]]:
        """Values replaced by later imports, oldest first, with what stood before."""
        with self.reading() as connection:
            return ledger.documents(connection, schema.corrections, person_id)

    def conflicts(self, person_id: str) -> list[dict[str, Any]]:
        """Values that contradicted each other within one file: the one kept, and the other."""
        with self.reading() as connection:
            return ledger.documents(connection, schema.conflicts, person_id)

    # Questions

    def questions(self, person_id: str | None = None, only_open: bool = True) -> list[asked.Asked]:
        """Questions waiting for an answer, oldest first; with `only_open=False` the answered ones too."""
        with self.reading() as connection:
            return asked.load(connection, person_id, only_open)

    def answer(self, question_id: int, answer: str, by: str, now_utc: datetime) -> None:
        """Keeps an answer and applies it to what it is about (`answers`). Raises WrongUse for one not offered."""
        with self.writing() as connection:
            person_id = asked.one(connection, question_id).question.person_id
            ever = people.known_person(connection, person_id).sources.entries
            sources = [source for _, told in ever for source in told]
            answered = asked.record_answer(connection, question_id, answer, by, now_utc, sources)
            ledger.mark_changed(connection, person_id, answers.touches_from(answered, BEGINNING))
            if answered.question.kind == answers.WHOSE_FILE and answer != person_id and answered.import_id is not None:
                taking_back.take_back(connection, answered.import_id)

    # Cards

    def keep_card(self, card: cards.Card) -> None:
        """Keeps a card that was made; the number must be new for the person."""
        with self.writing() as connection:
            cards.keep(connection, card)

    def cards_of(self, person_id: str) -> list[cards.Card]:
        """Every card ever made for a person, oldest first."""
        with self.reading() as connection:
            return cards.load(connection, person_id)

    def throw_away_card(self, person_id: str, number: int, on: date) -> None:
        """Notes that a card was thrown away on a local day; it is watched no longer. WrongUse when it is not out."""
        with self.writing() as connection:
            cards.throw_away(connection, person_id, number, on)

    # Findings

    def save_findings(
        self,
        person_id: str,
        findings: Findings,
        questions: Iterable[Question] = (),
        inputs_version: int | None = None,
        as_shown: bool = False,
        going_on: found.GoingOn | None = None,
    ) -> bool:
        """Replaces a person's findings and the questions that came with them.

        inputs_version  of the inputs they rest on (`inputs_and_version`); if these changed meanwhile nothing is saved
                        and the answer is False, as when another program saved findings after those gone on from
        as_shown        also keep the night's factors and new predictions as they are shown
        going_on        what the next night goes on from (`inputs_to_find_from`); the pictures of treatments are in it
        """
        with self.writing() as connection:
            standing = self._version(connection, person_id)
            if inputs_version is not None and inputs_version != standing:
                return False
            if going_on is not None and not found.stands_still(connection, person_id, going_on.before):
                return False
            found.save(connection, person_id, findings, standing, going_on)
            questions = tuple(questions)
            asked.withdraw(connection, person_id, questions, "detect")
            asked.ask(connection, questions, findings.as_of_utc, "detect")
            if as_shown:
                found.keep_as_shown(connection, person_id, findings)
            connection.execute(
                update(schema.persons).where(schema.persons.c.person_id == person_id).values(changed_from=None)
            )
            trace.keep(connection, person_id)
        return True

    def findings(self, person_id: str) -> Findings | None:
        """The latest findings; None when there are none yet, or only in an older form."""
        with self.reading() as connection:
            loaded = found.load(connection, person_id)
        return None if loaded is None else loaded[0]

    def findings_are_current(self, person_id: str) -> bool:
        """Whether the stored findings rest on today's inputs and model."""
        with self.reading() as connection:
            return found.is_current(found.load(connection, person_id), self._version(connection, person_id))

    def shown_by(self, person_id: str, at_utc: datetime) -> Findings | None:
        """The factors of the latest night up to an instant, as they were shown then; None when there was none."""
        with self.reading() as connection:
            return found.shown_by(connection, person_id, at_utc)

    def shown(self, person_id: str) -> tuple[pl.DataFrame, pl.DataFrame]:
        """What past nights showed: (factors, predictions), oldest first."""
        with self.reading() as connection:
            return found.shown(connection, person_id)
