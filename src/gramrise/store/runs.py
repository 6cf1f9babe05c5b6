"""What the service did: runs, each person's part in them, and small notes it keeps for itself."""

import json
import secrets
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from sqlalchemy import ColumnElement, Row, delete, func, insert, select, update

from gramrise.store.instants import instant, instant_or_none, stored
from gramrise.store.schema import run_persons, runs, service
from gramrise.store.session import Session
from gramrise.store.upsert import insert_into

NIGHTLY: Final = "nightly"
WEEKLY: Final = "weekly"
DONE: Final = "done"
FAILED: Final = "failed"
EARLY: Final = "early"  # done by a clock that was ahead, before the week was whole: owed again


@dataclass(frozen=True, slots=True)
class Run:
    """One run of the service; `finished_at_utc` is None while it runs or when it was cut off."""

    run_id: int
    kind: str
    started_at_utc: datetime
    finished_at_utc: datetime | None


@dataclass(frozen=True, slots=True)
class PersonRun:
    """One person's part of a run: for which local date, done or failed, and why.

    letters, data_until_utc   of a week: how many letters were written, and the latest reading there was then
    """

    person_id: str
    for_on: date
    state: str
    finished_at_utc: datetime
    code: str = ""
    sentence: str = ""
    letters: int = 0
    data_until_utc: datetime | None = None


class Runs:
    """The record of runs in a store; every method is one transaction."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def begin(self, kind: str, now_utc: datetime) -> int:
        """Notes that a run has begun; its number."""
        with self._session.writing() as connection:
            key = connection.execute(insert(runs).values(kind=kind, started_at=stored(now_utc))).inserted_primary_key
            assert key is not None
            return int(key[0])

    def finish(self, run_id: int, now_utc: datetime) -> None:
        with self._session.writing() as connection:
            connection.execute(update(runs).where(runs.c.run_id == run_id).values(finished_at=stored(now_utc)))

    def record(self, run_id: int, part: PersonRun) -> None:
        """Notes a person's part; a second note about the same day replaces the first."""
        with self._session.writing(part.person_id) as connection:
            key = {"run_id": run_id, "person_id": part.person_id, "for_on": part.for_on.isoformat()}
            told = {
                "state": part.state,
                "finished_at": stored(part.finished_at_utc),
                "code": part.code,
                "sentence": part.sentence,
                "letters": part.letters,
                "data_until": None if part.data_until_utc is None else stored(part.data_until_utc),
            }
            entered = insert_into(connection, run_persons).values(**key, **told)
            connection.execute(entered.on_conflict_do_update(index_elements=list(key), set_=told))

    def done_since(self, kind: str, day: date) -> set[tuple[str, date]]:
        """Every (person, local date) on or after a day whose part in a run of this kind was done."""
        table = run_persons.c
        return self._parts_of(kind, table.state == DONE, table.for_on >= day.isoformat())

    def failed_between(self, kind: str, start_utc: datetime, end_utc: datetime) -> set[tuple[str, date]]:
        """Every (person, local date) whose part failed in [start, end]: not to be tried again at once."""
        table = run_persons.c
        return self._parts_of(
            kind, table.state == FAILED, table.finished_at.between(stored(start_utc), stored(end_utc))
        )

    def done_after(self, kind: str, at_utc: datetime) -> list[PersonRun]:
        """Parts that came to their end after an instant; after now, only a clock that was ahead did them."""
        table = run_persons.c
        chosen = select(run_persons).join(runs, runs.c.run_id == run_persons.c.run_id).where(runs.c.kind == kind)
        with self._session.reading() as connection:
            found = connection.execute(chosen.where(table.state == DONE, table.finished_at > stored(at_utc)))
            return [_part(row) for row in found]

    def parts_of_kind(self, kind: str, since: date) -> list[PersonRun]:
        """Parts that were done for a local date on or after a day, in the order in which they were done."""
        chosen = select(run_persons).join(runs, runs.c.run_id == run_persons.c.run_id).where(runs.c.kind == kind)
        table = run_persons.c
        with self._session.reading() as connection:
            found = connection.execute(
                chosen.where(table.state == DONE, table.for_on >= since.isoformat()).order_by(table.run_id)
            )
            return [_part(row) for row in found]

    def owe_again(self, kind: str, part: PersonRun) -> None:
        """Makes a part that was done count as not done."""
        of_kind = select(runs.c.run_id).where(runs.c.kind == kind)
        mine = (run_persons.c.person_id == part.person_id, run_persons.c.for_on == part.for_on.isoformat())
        with self._session.writing() as connection:
            changed = update(run_persons).where(*mine, run_persons.c.run_id.in_(of_kind), run_persons.c.state == DONE)
            connection.execute(changed.values(state=EARLY))

    def _parts_of(self, kind: str, *rules: ColumnElement[bool]) -> set[tuple[str, date]]:
        """(person, local date) of the parts to which the rules apply; the database sifts, years of nights are many."""
        chosen = select(run_persons.c.person_id, run_persons.c.for_on).join(runs, runs.c.run_id == run_persons.c.run_id)
        with self._session.reading() as connection:
            found = connection.execute(chosen.where(runs.c.kind == kind, *rules))
            return {(person_id, date.fromisoformat(for_on)) for person_id, for_on in found}

    def latest(self, kind: str, finished: bool = True) -> Run | None:
        """The latest run of a kind by its beginning; with `finished` the latest that came to its end."""
        with self._session.reading() as connection:
            chosen = select(runs).where(runs.c.kind == kind).order_by(runs.c.run_id.desc()).limit(1)
            row = connection.execute(chosen.where(runs.c.finished_at.is_not(None)) if finished else chosen).first()
        if row is None:
            return None
        return Run(row.run_id, row.kind, instant(row.started_at), instant_or_none(row.finished_at))

    def parts(self, run_id: int) -> list[PersonRun]:
        """Every person's part in a run, in order of id."""
        with self._session.reading() as connection:
            chosen = select(run_persons).where(run_persons.c.run_id == run_id).order_by(*run_persons.primary_key)
            return [_part(row) for row in connection.execute(chosen)]

    def failing(self, kind: str) -> list[PersonRun]:
        """The persons whose latest part in a run of this kind failed."""
        of_kind = select(run_persons).join(runs, runs.c.run_id == run_persons.c.run_id).where(runs.c.kind == kind)
        latest = of_kind.order_by(run_persons.c.run_id.desc(), run_persons.c.for_on.desc()).limit(1)
        with self._session.reading() as connection:
            failed = connection.execute(of_kind.where(run_persons.c.state == FAILED)).all()
            persons = sorted({row.person_id for row in failed})
            newest = [connection.execute(latest.where(run_persons.c.person_id == each)).one() for each in persons]
        return [_part(row) for row in newest if row.state == FAILED]

    def drop_before(self, before_utc: datetime) -> int:
        """Drops runs begun before, with everybody's part in them; the latest of each kind stays. How many.

        Also the latest part of each person stays, and its run: whether they fail is told by it.
        """
        with self._session.writing() as connection:
            of_each = select(func.max(run_persons.c.run_id)).join(runs, runs.c.run_id == run_persons.c.run_id)
            latest = select(func.max(runs.c.run_id)).group_by(runs.c.kind)
            stay = {*connection.execute(of_each.group_by(run_persons.c.person_id, runs.c.kind)).scalars()}
            stay |= {*connection.execute(latest).scalars()}
            old = connection.execute(select(runs.c.run_id).where(runs.c.started_at < stored(before_utc))).scalars()
            gone = [run_id for run_id in old if run_id not in stay]
            for run_id in gone:
                connection.execute(delete(run_persons).where(run_persons.c.run_id == run_id))
                connection.execute(delete(runs).where(runs.c.run_id == run_id))
            return len(gone)

    def note(self, key: str, value: Any) -> None:
        """Keeps a small document under a key, in the place of the one before."""
        with self._session.writing() as connection:
            text = json.dumps(value)
            entered = insert_into(connection, service).values(key=key, value=text)
            connection.execute(entered.on_conflict_do_update(index_elements=["key"], set_={"value": text}))

    def noted(self, key: str) -> Any:
        """The document kept under a key; None when there is none."""
        with self._session.reading() as connection:
            text = connection.execute(select(service.c.value).where(service.c.key == key)).scalar_one_or_none()
        return None if text is None else json.loads(text)

    def home_mark(self) -> str:
        """Random letters made once for this home: logs and message ids carry codes made with it instead of names."""
        mark = self.noted("home_mark")
        if mark is None:
            with self._session.writing() as connection:  # of two that begin at once one makes it
                made = insert_into(connection, service).values(key="home_mark", value=json.dumps(secrets.token_hex(16)))
                connection.execute(made.on_conflict_do_nothing())
            mark = self.noted("home_mark")
        return str(mark)


def _part(row: Row[Any]) -> PersonRun:
    at = instant(row.finished_at)
    told = (row.code, row.sentence, row.letters, instant_or_none(row.data_until))
    return PersonRun(row.person_id, date.fromisoformat(row.for_on), row.state, at, *told)
