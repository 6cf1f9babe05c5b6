"""`Store`: everything a household has logged and everything found, in one database. The only speaker of SQL.

What needs frames is imported in the methods that use it: a command that only changes a fact about a person loads none.
"""

import copy
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from sqlalchemy import Connection, Engine, update

from gramrise.domain.person import Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.questions import Question
from gramrise.store import changes, database, input_times, opening, persons, schema, undoing, weighings
from gramrise.store.access import Actor, Panels, Trail, note
from gramrise.store.access.trail import CHANGED, SAW, SIGNED
from gramrise.store.findings import cards, header
from gramrise.store.instants import BEGINNING, stored
from gramrise.store.outbox import Outbox
from gramrise.store.page.devices import Devices
from gramrise.store.page.phone_log import PhoneLog
from gramrise.store.questions import kinds, stored_questions, weight_answers
from gramrise.store.runs import Runs
from gramrise.store.session import Session
from gramrise.store.supplies import Supplies
from gramrise.store.troubles import explained

if TYPE_CHECKING:
    import polars as pl

    from gramrise.domain.batch import Batch, ImportSummary, Quarantined
    from gramrise.domain.findings import Findings, Inputs
    from gramrise.domain.memo import Memo
    from gramrise.domain.references import SignedReference
    from gramrise.store.findings import saved_findings
    from gramrise.store.findings.to_find_from import ToFindFrom
    from gramrise.store.ingest.file_transaction import FileTransaction


class Store:
    """Open it with `Store.open`, close it with `close` or a `with` block.

    Every method is one transaction. All raise CouldNotRun, saying how to mend, when the database is damaged, locked
    by another program for longer than a minute, or the disk is full; nothing is changed then.
    """

    def __init__(self, engine: Engine, home: Path) -> None:
        self.engine, self.home = engine, home
        self._session = Session(engine)
        self.runs, self.outbox = Runs(self._session), Outbox(self._session)
        self.supplies = Supplies(self._session)
        self.trail, self.panels = Trail(self._session), Panels(self._session)
        self.actor = Actor()  # who works with this store, for the trail
        self.devices, self.phone_log = Devices(self._session), PhoneLog(self._session)

    def acting_as(self, actor: Actor) -> Self:
        """The same store for somebody else, as the trail will name them."""
        other = copy.copy(self)
        other.actor = actor
        return other

    def note_look(self, what: str, now_utc: datetime, person_id: str) -> None:
        """Notes on a server that somebody looked; not in a family's file, where a look must not wait for a night."""
        if self._session.on_server:
            self.trail.note(self.actor, SAW, what, now_utc, person_id)

    @classmethod
    def open(cls, home: Path, url: str | None = None, create: bool = True) -> Self:
        """The store of a home folder, made or migrated to the newest tables where needed.

        url      an SQLAlchemy URL; None: what the home's gramrise.toml names, else the SQLite file in the home folder
        create   make home and database when there are none; else CouldNotRun with code no_home
        """
        engine = opening.open_engine(home, url, create)
        return cls(engine, home)

    def close(self) -> None:
        self.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: object, trace: TracebackType | None) -> None:
        self.close()

    def reading(self) -> AbstractContextManager[Connection]:
        """One consistent view of the database; other programs may write meanwhile."""
        return self._session.reading()

    def writing(self, whose: str | None = None) -> AbstractContextManager[Connection]:
        """One transaction: all of it happens, or nothing. Other writers wait; where `whose` is told, theirs only."""
        return self._session.writing(whose)

    # Persons

    def persons(self) -> list[Person]:
        """Everybody, in order of id."""
        with self.reading() as connection:
            return persons.load_people(connection)

    def person(self, person_id: str) -> Person:
        """One person. Raises WrongUse for an id nobody has."""
        with self.reading() as connection:
            return persons.known_person(connection, person_id)

    def save_person(
        self, person: Person, now_utc: datetime | None = None, doubted: "Sequence[Question] | None" = None
    ) -> None:
        """Adds the person, or makes the stored one equal to this; what depends on their facts is found again.

        now_utc  given: what changed of a known person is kept as a change that `undo` can take back
        doubted  given with now_utc, where the birth date changed: the questions that it raises about weights
        """
        if person.zone.latest() is None:
            raise WrongUse(f"'{person.person_id}' has no time zone", "name one: --zone Europe/Berlin")
        with self.writing(person.person_id) as connection:
            before = persons.load_people(connection, person.person_id)
            if before == [person]:
                return
            facts = persons.facts_as_text(connection, person.person_id)
            persons.write_person(connection, person)
            if facts and now_utc is not None:
                undoing.record_facts(connection, person.person_id, facts, now_utc)
            if now_utc is not None:
                note(connection, self.actor, CHANGED, "facts", now_utc, person.person_id)
            if doubted is not None and now_utc is not None:
                weighings.doubt_by_age(connection, person.person_id, doubted, now_utc)
            if [replace(each, **persons.only_printed(person)) for each in before] != [person]:
                persons.mark_changed(connection, person.person_id, BEGINNING)

    def forget(self, person_id: str) -> None:
        """Takes everything about a person out of the database, and their bytes out of the file."""
        self.begin_forgetting(person_id)
        self.end_forgetting(person_id)

    def begin_forgetting(self, person_id: str) -> None:
        """Deletes the person's rows and notes that their files are to follow. Raises WrongUse for an unknown id."""
        from gramrise.store import forgetting

        with self.writing() as connection:
            forgetting.begin(connection, person_id)

    def end_forgetting(self, person_id: str) -> None:
        """Takes the person's bytes out of the file, and the note that says their files are to follow."""
        from gramrise.store import forgetting

        with explained(self._session.path):
            database.vacuum(self.engine)
        with self.writing() as connection:
            forgetting.end(connection, person_id)
        with explained(self._session.path):
            database.empty_log(self.engine)

    def being_forgotten(self) -> list[str]:
        """Ids whose rows are gone while files of theirs may be left: `forget` was cut off."""
        from gramrise.store import forgetting

        with self.reading() as connection:
            return forgetting.unfinished(connection)

    def document_of(self, person_id: str) -> dict[str, Any]:
        """Everything told about a person as one document (`keeping.person_rows`). Raises WrongUse for an unknown id."""
        from gramrise.store.keeping import person_rows

        with self.reading() as connection:
            persons.refuse_unknown(connection, person_id)
            return person_rows.document_of(connection, person_id)

    def bring_in(self, document: dict[str, Any], now_utc: datetime, as_id: str | None = None) -> str:
        """Adds the person of such a document, under its id or another; the id. Raises WrongUse, changing nothing."""
        from gramrise.store.keeping import person_rows

        with self.writing() as connection:
            person_id = person_rows.bring_in(connection, document, as_id)
            persons.mark_changed(connection, person_id, BEGINNING)
            note(connection, self.actor, CHANGED, "brought_in", now_utc, person_id)
            return person_id

    # Inputs

    def take_in(self, batch: "Batch", now_utc: datetime, dry_run: bool = False, retry: bool = False) -> "ImportSummary":
        """Puts one file's batch away, whole or not at all; the same bytes a second time change nothing.

        A value known already is counted, another value for a known identity replaces it and the old one is remembered,
        values that contradict each other within the file are both kept and the last is used.
        dry_run  say what would happen, change nothing
        retry    look again at a file known by its bytes; its quarantine is replaced
        """
        with self.taking_in(now_utc, dry_run=dry_run, retry=retry, whose=batch.person_id) as put:
            return put.batch(batch)

    @contextmanager
    def taking_in(
        self, now_utc: datetime, *, dry_run: bool = False, retry: bool = False, whose: str | None = None
    ) -> "Iterator[FileTransaction]":
        """One transaction for all batches of a file: `put.batch(batch)` for each. As `take_in` otherwise.

        whose   the one person of all batches, where the caller knows; others' writers need not wait then
        """
        from gramrise.store.ingest.file_transaction import FileTransaction

        with self._session.trying(dry_run, whose) as connection:
            put = FileTransaction(connection, now_utc, dry_run, retry)
            yield put
            changed = put.note_change()
            if changed is not None:
                note(connection, self.actor, CHANGED, changed.kind, now_utc, changed.person_id)

    def inputs(self, person_id: str) -> "Inputs":
        """Everything logged for a person, as the family has since explained it. Raises WrongUse for an unknown id."""
        from gramrise.store import inputs

        with self.reading() as connection:
            return inputs.inputs_of(connection, persons.known_person(connection, person_id), None)

    def inputs_since(self, person_id: str, since_utc: datetime) -> "Inputs":
        """The inputs from an instant on, that instant included; the person whole."""
        from gramrise.store import inputs

        with self.reading() as connection:
            return inputs.inputs_of(connection, persons.known_person(connection, person_id), stored(since_utc))

    def inputs_and_version(self, person_id: str) -> "tuple[Inputs, int]":
        """The inputs with the number that `save_findings` wants back."""
        from gramrise.store import inputs

        with self.reading() as connection:
            person = persons.known_person(connection, person_id)
            return inputs.inputs_of(connection, person, None), input_times.inputs_version(connection, person_id)

    @contextmanager
    def to_find_from(self, person_id: str) -> "Iterator[ToFindFrom]":
        """What findings are computed from, in one view of the database, while the block lasts."""
        from gramrise.domain.memo import Memo
        from gramrise.store import inputs
        from gramrise.store.findings import blocks
        from gramrise.store.findings.readings import by_day
        from gramrise.store.findings.to_find_from import ToFindFrom

        with self.reading() as connection:
            person = persons.known_person(connection, person_id)
            yield ToFindFrom(
                inputs=inputs.inputs_of(connection, person, None, with_readings=False),
                readings=by_day(connection, person_id),
                version=input_times.inputs_version(connection, person_id),
                memo=Memo(block for _, block in blocks.sound(connection, person_id).values()),
            )

    def readings(self, person_id: str, since_utc: datetime | None = None) -> "pl.DataFrame":
        """READINGS of a person from an instant on; None: all."""
        from gramrise.store.findings.readings import readings_of

        with self.reading() as connection:
            return readings_of(connection, person_id, None if since_utc is None else stored(since_utc))

    def noticed(self, person_id: str) -> list[tuple[datetime, str]]:
        """Instants of glucose given with who noticed that it was needed, where somebody said so, by time."""
        with self.reading() as connection:
            return input_times.noticed(connection, person_id)

    def has_inputs(self, person_id: str, start_utc: datetime, end_utc: datetime) -> bool:
        """Whether a reading or a dose lies in [start, end)."""
        with self.reading() as connection:
            return input_times.has_inputs(connection, person_id, start_utc, end_utc)

    def has_readings(self, person_id: str, start_utc: datetime, end_utc: datetime) -> bool:
        """Whether a reading lies in [start, end)."""
        with self.reading() as connection:
            return input_times.has_readings(connection, person_id, start_utc, end_utc)

    def changes_that_brought(
        self, person_id: str, start_utc: datetime, end_utc: datetime | None
    ) -> list[changes.Change]:
        """A person's changes that stand and logged something in [start, end), latest first. None: no end."""
        with self.reading() as connection:
            return changes.that_brought(connection, person_id, start_utc, end_utc)

    def last_reading_at(self, person_id: str) -> datetime | None:
        """The instant of the latest reading; None when there is none."""
        with self.reading() as connection:
            return input_times.last_reading_at(connection, person_id)

    def last_data_at(self, person_id: str) -> datetime | None:
        """The instant of the latest reading or dose; None when there is neither."""
        with self.reading() as connection:
            return input_times.last_data_at(connection, person_id)

    def changed_from(self, person_id: str) -> datetime | None:
        """The earliest instant whose inputs changed since the findings were saved; None: nothing changed."""
        with self.reading() as connection:
            return input_times.changed_from(connection, person_id)

    def take_back(self, import_id: int) -> None:
        """Undoes an import: what it added goes, what it corrected stands as before, its file can be imported anew."""
        from gramrise.store.ingest import undo

        with self.writing() as connection:
            undo.take_back(connection, import_id)

    def weigh(
        self, person_id: str, day: date, kg: float, asked: Sequence[Question], now_utc: datetime
    ) -> weighings.Weighed:
        """Puts a typed weighing away, the way an imported one goes. `asked`: the questions it raises."""
        with self.writing(person_id) as connection:
            note(connection, self.actor, CHANGED, changes.WEIGHING, now_utc, person_id)
            return weighings.weigh(connection, person_id, day, kg, asked, now_utc)

    def doubt_by_age(self, person_id: str, asked: Sequence[Question], now_utc: datetime) -> None:
        """Open questions about weights beside the age are `asked` from now on, and no others."""
        with self.writing() as connection:
            weighings.doubt_by_age(connection, person_id, asked, now_utc)

    def doubt_anew(self, person_id: str, judged: Sequence[int], asked: Sequence[Question], now_utc: datetime) -> None:
        """Open questions about weights, by number, were judged anew: those `asked` stand, no others."""
        with self.writing(person_id) as connection:
            weighings.doubt_anew(connection, person_id, judged, asked, now_utc)

    def last_changes(
        self, person_id: str | None = None, most: int | None = 10, without: frozenset[str] = frozenset()
    ) -> list[changes.Change]:
        """The last changes, latest first: glucose given, files, weighings, answers, facts; those taken back too.

        most     None: all of them
        without  kinds that are left out
        """
        with self.reading() as connection:
            return changes.load(connection, person_id, most, without)

    def taken_back_spans(self, person_id: str, kinds: frozenset[str]) -> list[tuple[datetime, datetime]]:
        """(when it was made, when it was taken back) of each change of these kinds that stands no more."""
        with self.reading() as connection:
            return changes.taken_back_spans(connection, person_id, kinds)

    def undo(self, change_id: int, now_utc: datetime, whose: str | None = None) -> changes.Change:
        """Takes one change back, whole; returns it as it stood before. One taken back already stays so.

        whose   it must be this person's; None: anybody's
        raises  WrongUse where there is none of that number, or where it cannot be taken back alone
        """
        with self.writing() as connection:
            undone = undoing.undo(connection, change_id, now_utc, whose)
            note(connection, self.actor, CHANGED, f"undo {undone.kind}", now_utc, undone.person_id)
            return undone

    def imports(self, person_id: str | None = None) -> list[dict[str, Any]]:
        """The ledger: one document a file taken in, oldest first."""
        from gramrise.store.ingest import ledger

        with self.reading() as connection:
            return ledger.ledger(connection, person_id)

    def quarantine(self, person_id: str | None = None) -> "list[tuple[str, Quarantined]]":
        """Rows that could not be read, as (person_id, row with its trouble), oldest first."""
        from gramrise.store.ingest import ledger

        with self.reading() as connection:
            return ledger.quarantined(connection, person_id)

    def lines_set_aside(self, person_id: str, since_utc: datetime) -> list[tuple[str, int]]:
        """Files taken in after an instant of which lines count nowhere, oldest first: their name, and how many."""
        from gramrise.store.ingest import ledger

        with self.reading() as connection:
            return ledger.lines_set_aside(connection, person_id, since_utc)

    def corrections(self, person_id: str) -> list[dict[str, Any]]:
        """Values replaced by later imports, oldest first, with what stood before."""
        from gramrise.store.ingest import ledger

        with self.reading() as connection:
            return ledger.documents(connection, schema.corrections, person_id)

    def conflicts(self, person_id: str) -> list[dict[str, Any]]:
        """Values that contradicted each other within one file: the one kept, and the other."""
        from gramrise.store.ingest import ledger

        with self.reading() as connection:
            return ledger.documents(connection, schema.conflicts, person_id)

    def amounts_of_no_source(self, person_id: str) -> dict[str, int]:
        """How many logged pieces or mL are of a source that is not stated, by its name: they have no grams."""
        from gramrise.store.dose_grams import of_no_source

        with self.reading() as connection:
            return of_no_source(connection, persons.known_person(connection, person_id))

    # Questions

    def questions(self, person_id: str | None = None, only_open: bool = True) -> list[stored_questions.StoredQuestion]:
        """Questions waiting for an answer, oldest first; with `only_open=False` the answered ones too."""
        with self.reading() as connection:
            asked = stored_questions.load(connection, person_id, only_open)
            hidden = self._moot(connection, asked) if only_open else set()
            return [each for each in asked if each.question_id not in hidden]

    def _moot(self, connection: Connection, asked: Sequence[stored_questions.StoredQuestion]) -> set[int]:
        hidden = weight_answers.moot(connection, asked)
        if any("ordinal" in each.question.about for each in asked):
            from gramrise.store.questions import dose_answers

            hidden |= dose_answers.moot(connection, asked)
        return hidden

    def answer(self, question_id: int, answer: str, by: str, now_utc: datetime) -> None:
        """Keeps an answer and applies it to what it is about (`questions`). Raises WrongUse for one not offered."""
        from gramrise.store.ingest import undo

        with self.writing() as connection:
            person_id = stored_questions.one(connection, question_id).question.person_id
            ever = persons.known_person(connection, person_id).sources.entries
            sources = [source for _, told in ever for source in told]
            before = stored_questions.one(connection, question_id)
            answered = stored_questions.record_answer(connection, question_id, answer, by, now_utc, sources)
            undoing.record_answer(connection, before, answer, now_utc)
            note(connection, self.actor, CHANGED, changes.ANSWER, now_utc, person_id)
            persons.mark_changed(connection, person_id, kinds.touches_from(answered, BEGINNING))
            for import_id in kinds.takes_file_back(answered, answer):
                undo.take_back(connection, import_id)

    # Cards

    def keep_card(self, card: cards.Card) -> None:
        """Keeps a card that was made; the number must be new for the person."""
        with self.writing(card.person_id) as connection:
            cards.keep(connection, card)
            note(connection, self.actor, CHANGED, "card", card.made_at_utc, card.person_id)

    def cards_of(self, person_id: str) -> list[cards.Card]:
        """Every card ever made for a person, oldest first."""
        with self.reading() as connection:
            return cards.load(connection, person_id)

    def sign(self, reference: "SignedReference") -> None:
        """Keeps a sign-off; its number must be `next_reference_number`."""
        from gramrise.store import references

        with self.writing(reference.person_id) as connection:
            references.keep(connection, reference)
            signed = f"reference {reference.number}"
            note(connection, self.actor, SIGNED, signed, reference.signed_at_utc, reference.person_id)

    def next_reference_number(self, person_id: str) -> int:
        from gramrise.store import references

        with self.reading() as connection:
            return references.next_number(connection, person_id)

    def references_of(self, person_id: str) -> "list[SignedReference]":
        """Every sign-off of a person, the latest first."""
        from gramrise.store import references

        with self.reading() as connection:
            return references.load(connection, person_id)

    def withdraw_reference(self, person_id: str, number: int, on: date) -> None:
        """Notes that a sign-off was taken back. Raises WrongUse where none of that number stands."""
        from gramrise.store import references

        with self.writing(person_id) as connection:
            references.withdraw(connection, person_id, number, on)

    def throw_away_card(self, person_id: str, number: int, on: date) -> None:
        """Notes that a card was thrown away on a local day; it is watched no longer. WrongUse when it is not out."""
        with self.writing(person_id) as connection:
            cards.throw_away(connection, person_id, number, on)

    def hang_card_again(self, person_id: str, number: int) -> None:
        """Notes that a card said to be thrown away is out after all. Raises WrongUse where it was not."""
        with self.writing(person_id) as connection:
            cards.hang_again(connection, person_id, number)

    # Findings

    def save_findings(
        self,
        person_id: str,
        findings: "Findings",
        questions: Iterable[Question] = (),
        inputs_version: int | None = None,
        as_shown: bool = False,
        memo: "Memo | None" = None,
    ) -> bool:
        """Replaces a person's findings and the questions that came with them.

        inputs_version  of the inputs they rest on (`inputs_and_version`, `to_find_from`); if these changed meanwhile
                        nothing is saved and the answer is False
        as_shown        also keep the night's factors and new predictions as they are shown
        memo            the remembered results that lows, treatments and paths are put together from
        """
        from gramrise.store.findings import saved_findings, shown

        with self.writing(person_id) as connection:
            standing = input_times.inputs_version(connection, person_id)
            if inputs_version is not None and inputs_version != standing:
                return False
            saved_findings.save(connection, person_id, findings, standing, memo)
            questions = tuple(questions)
            stored_questions.withdraw(connection, person_id, questions, "detect")
            stored_questions.ask(connection, questions, findings.as_of_utc, "detect")
            if as_shown:
                shown.keep_as_shown(connection, person_id, findings)
            connection.execute(
                update(schema.persons).where(schema.persons.c.person_id == person_id).values(changed_from=None)
            )
        return True

    def findings(self, person_id: str, only: Collection[str] | None = None) -> "Findings | None":
        """The latest findings; None when there are none yet, only in an older form, or damaged ones.

        only   names of the frames that are read, the others staying empty; None: all
        """
        from gramrise.store.findings import saved_findings

        with self.reading() as connection:
            loaded = saved_findings.load(connection, person_id)
        return None if loaded is None else saved_findings.findings_of(person_id, loaded, only)

    def current_as_of(self, person_id: str) -> datetime | None:
        """The instant as of which the stored findings hold; None when there are none, or inputs or model changed."""
        with self.reading() as connection:
            return header.current_as_of(connection, person_id)

    def findings_are_current(self, person_id: str) -> bool:
        """Whether the stored findings rest on today's inputs and model, and are sound."""
        from gramrise.store.findings import saved_findings

        with self.reading() as connection:
            loaded = saved_findings.load(connection, person_id)
            return loaded is not None and loaded.is_current(input_times.inputs_version(connection, person_id))

    def verify_blocks(self, person_id: str | None = None) -> "list[saved_findings.Unsound]":
        """Blocks and findings that do not agree with their hash, of one person or of everybody; none are used."""
        from gramrise.store.findings import saved_findings

        with self.reading() as connection:
            everybody = [person.person_id for person in persons.load_people(connection, person_id)]
            return [each for one in everybody for each in saved_findings.unsound(connection, one)]

    def shown_by(self, person_id: str, at_utc: datetime) -> "Findings | None":
        """The factors of the latest night up to an instant, as they were shown then; None when there was none."""
        from gramrise.store.findings import shown

        with self.reading() as connection:
            return shown.shown_by(connection, person_id, at_utc)

    def shown(self, person_id: str) -> "tuple[pl.DataFrame, pl.DataFrame]":
        """What past nights showed: (factors, predictions), oldest first."""
        from gramrise.store.findings import shown

        with self.reading() as connection:
            return shown.shown(connection, person_id)
