"""What is logged on the page: each entry once, whatever was pressed twice, and the last ones with who gave them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, func, insert, select

from gramrise.store import changes
from gramrise.store.access.trail import CHANGED, Actor, note
from gramrise.store.instants import MICROSECONDS_IN_A_MINUTE, instant, stored
from gramrise.store.persons import known_person
from gramrise.store.schema import doses, events, phone_entries
from gramrise.store.session import Session

if TYPE_CHECKING:
    import polars as pl

    from gramrise.domain.batch import Batch
    from gramrise.store.page.devices import Device


@dataclass(frozen=True, slots=True)
class Logged:
    """What became of an entry. `known`: it had been handed over before, and nothing changed now."""

    import_id: int
    known: bool
    questions: int = 0


@dataclass(frozen=True, slots=True)
class Given:
    """Glucose given, as the page lists it. `change_id` None: a file brought it, and `undo` takes it back with that."""

    taken_at_utc: datetime
    source: str
    amount: float | None
    amount_unit: str
    grams: float | None
    noticed: str
    by: str
    device_id: int | None
    change_id: int | None


@dataclass(frozen=True, slots=True)
class NotedBeside:
    """What was logged on the page beside glucose: food, or a note. `amount` in g of carbohydrate for food."""

    at_utc: datetime
    kind: str
    amount: float | None
    text: str
    by: str
    change_id: int | None


class PhoneLog:
    """The log of the page; every method is one transaction."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def log(self, batch: "Batch", entry: str, device: "Device", now_utc: datetime, *, apart: bool = False) -> Logged:
        """Puts one entry away under the identity its phone gave it, once.

        Amounts of one source in one minute stand beside each other: two phones without network must lose nothing.
        Equal amounts within minutes are asked about, as everywhere; not where `apart`: that was asked on the phone.
        """
        from gramrise.store.ingest.file_transaction import FileTransaction

        with self._session.writing() as connection:
            known = _import_of(connection, batch.person_id, entry)
            if known is not None:
                return Logged(known, known=True)
            put = FileTransaction(connection, now_utc, dry_run=False, retry=False)
            given, beside = _beside_others(connection, batch.doses), _at_their_own(connection, batch.events)
            summary = put.batch(replace(batch, doses=given, events=beside), apart=apart)
            put.note_change()
            assert summary.import_id is not None  # the hash of its content holds the entry's own identity
            row = {"person_id": batch.person_id, "entry": entry, "device_id": device.device_id, "by": device.label}
            connection.execute(
                insert(phone_entries).values(logged_at=stored(now_utc), import_id=summary.import_id, **row)
            )
            note(
                connection,
                Actor(f"device {device.device_id}", device.role),
                CHANGED,
                changes.GIVEN,
                now_utc,
                batch.person_id,
            )
            return Logged(summary.import_id, known=False, questions=summary.questions)

    def knows(self, person_id: str, entry: str) -> bool:
        """Whether an entry was handed over before."""
        with self._session.reading() as connection:
            return _import_of(connection, person_id, entry) is not None

    def given_since(self, person_id: str, since_utc: datetime) -> list[Given]:
        """Glucose given from an instant on, latest first, whoever logged it and however, as it counts now."""
        from gramrise.store.inputs import doses_since

        with self._session.reading() as connection:
            counted, brought = doses_since(connection, known_person(connection, person_id), since_utc)
            whose, undone = _whose(connection, person_id, brought), _changes(connection, person_id)
            rows = zip(counted.iter_rows(named=True), brought, strict=True)
            return [_given(row, import_id, whose, undone) for row, import_id in rows][::-1]

    def noted_since(self, person_id: str, since_utc: datetime) -> list[NotedBeside]:
        """What was logged on the page beside glucose from an instant on, latest first."""
        with self._session.reading() as connection:
            mine = (events.c.person_id == person_id, events.c.at_utc >= stored(since_utc))
            found = connection.execute(select(events).where(*mine).order_by(events.c.at_utc.desc())).all()
            brought = [row.import_id for row in found]
            whose, undone = _whose(connection, person_id, brought), _changes(connection, person_id)
            return [
                NotedBeside(
                    instant(row.at_utc), row.kind, row.amount, row.text, whose[row.import_id][0],
                    undone.get(row.import_id),
                )
                for row in found
                if row.import_id in whose
            ]  # fmt: skip


def _import_of(connection: Connection, person_id: str, entry: str) -> int | None:
    chosen = select(phone_entries.c.import_id)
    found = connection.execute(
        chosen.where(phone_entries.c.person_id == person_id, phone_entries.c.entry == entry)
    ).scalar_one_or_none()
    return None if found is None else int(found)


def _beside_others(connection: Connection, given: "pl.DataFrame") -> "pl.DataFrame":
    """DOSES whose ordinals follow those that stand in the same minute already."""
    rows = given.to_dicts()
    for row in rows:
        minute = stored(row["taken_at_utc"]) // MICROSECONDS_IN_A_MINUTE
        same = (doses.c.person_id == row["person_id"], doses.c.minute == minute, doses.c.source == row["source"])
        highest = connection.execute(select(func.max(doses.c.ordinal)).where(*same)).scalar()
        row["ordinal"] += highest or 0
    return type(given)(rows, schema=given.schema, orient="row")


def _at_their_own(connection: Connection, noted: "pl.DataFrame") -> "pl.DataFrame":
    """EVENTS a second later where one of its kind stands at its instant: another phone's is no correction of it."""
    rows = noted.to_dicts()
    for row in rows:
        while _stands(connection, row):
            row["at_utc"] += timedelta(seconds=1)
    return type(noted)(rows, schema=noted.schema, orient="row")


def _stands(connection: Connection, row: dict[str, Any]) -> bool:
    same = (events.c.person_id == row["person_id"], events.c.at_utc == stored(row["at_utc"]))
    return connection.execute(select(events.c.kind).where(*same, events.c.kind == row["kind"])).first() is not None


def _whose(connection: Connection, person_id: str, brought: Sequence[int | None]) -> dict[int, tuple[str, int]]:
    """By number of import: who logged it, and on which device."""
    numbers = {import_id for import_id in brought if import_id is not None}
    mine = (phone_entries.c.person_id == person_id, phone_entries.c.import_id.in_(numbers))
    return {row.import_id: (row.by, row.device_id) for row in connection.execute(select(phone_entries).where(*mine))}


def _changes(connection: Connection, person_id: str) -> dict[int, int]:
    """By number of import: the change that `undo` takes it back with."""
    return {
        import_id: change.change_id
        for change in changes.load(connection, person_id, MOST_CHANGES)
        if change.kind == changes.GIVEN and change.taken_back_at_utc is None
        for import_id in change.about["import_ids"]
    }


# Our choice: more than a day's changes of any family; what is older than that is no longer offered on the page.
MOST_CHANGES = 200


def _given(
    row: dict[str, Any], import_id: int | None, whose: dict[int, tuple[str, int]], undone: dict[int, int]
) -> Given:
    told = {name: row[name] for name in ("taken_at_utc", "source", "amount", "amount_unit", "grams", "noticed")}
    if import_id is None:
        return Given(**told, by="", device_id=None, change_id=None)
    by, device_id = whose.get(import_id, ("", None))
    return Given(**told, by=by, device_id=device_id, change_id=undone.get(import_id))
