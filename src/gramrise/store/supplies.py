"""What the household has mixed and counted. A batch gives its strength to what is taken from it."""

import json
from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select

from gramrise.domain.counts import ContainerCount, StockCount
from gramrise.domain.mixtures import MixedBatch, Mixture, Powder, WaterBy
from gramrise.domain.person import Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.questions import Question
from gramrise.store import changes, persons, supply_rows
from gramrise.store.instants import BEGINNING, instant, stored
from gramrise.store.questions import stored_questions
from gramrise.store.questions.count_answers import as_answered
from gramrise.store.schema import container_counts, mixed_batches, stock_counts
from gramrise.store.session import Session

ASKED_BY_PLACE = "place"
OF_MIXTURE = ("powder", "powder_g", "water_by", "ml", "weighed_g", "citric_acid_mg", "ascorbic_acid_mg")


class Supplies:
    """The supplies of a store; every method is one transaction."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def batches(self, person_id: str) -> list[MixedBatch]:
        """A person's batches in order of the instant at which they were mixed."""
        with self._session.reading() as connection:
            return batches_of(connection, person_id)

    def keep_batch(
        self,
        person_id: str,
        source: str,
        mixed_at_utc: datetime,
        mixture: Mixture,
        strength_g_per_ml: float | None,
        *,
        now_utc: datetime | None = None,
        stated: Person | None = None,
    ) -> MixedBatch:
        """Logs a batch under the next number; grams taken from it follow from its strength. Raises WrongUse.

        strength_g_per_ml  None where nobody knows it: grams taken from it are unknown then
        now_utc            given: it is kept as a change that `undo` takes back
        stated             the person with the source as this batch states it; stored, and taken back, with it
        """
        with self._session.writing() as connection:
            persons.refuse_unknown(connection, person_id)
            mine = batches_of(connection, person_id)
            if any((batch.source, batch.mixed_at_utc) == (source, mixed_at_utc) for batch in mine):
                raise WrongUse(
                    f"a batch of '{source}' is logged for that minute already",
                    "gramrise mix --correct changes it; another one needs another time",
                )
            number = 1 + max((batch.number for batch in mine), default=0)
            batch = MixedBatch(person_id, number, source, mixed_at_utc, mixture, strength_g_per_ml)
            row = {"person_id": person_id, "number": number, "before": "[]", **_row(batch)}
            made = [supply_rows.put(connection, mixed_batches, row)]
            persons.mark_changed(connection, person_id, stored(mixed_at_utc))
            _note(connection, person_id, changes.MIXED, made, now_utc, _state(connection, person_id, stated))
            return batch

    def correct_batch(
        self, batch: MixedBatch, *, now_utc: datetime | None = None, stated: Person | None = None
    ) -> None:
        """Replaces a logged batch; what stood there is remembered. Raises WrongUse for a number there is not.

        now_utc, stated  as in `keep_batch`
        """
        mine = (mixed_batches.c.person_id == batch.person_id, mixed_batches.c.number == batch.number)
        with self._session.writing() as connection:
            row = connection.execute(select(mixed_batches).where(*mine)).first()
            if row is None:
                raise WrongUse(f"there is no batch {batch.number}", "gramrise mix lists the batches")
            before = [*json.loads(row.before), _row(_batch(row))]
            named = {"person_id": batch.person_id, "number": batch.number}
            made = [supply_rows.put(connection, mixed_batches, {**named, "before": json.dumps(before), **_row(batch)})]
            earliest = min(row.mixed_at, stored(batch.mixed_at_utc))
            persons.mark_changed(connection, batch.person_id, earliest)
            told = _state(connection, batch.person_id, stated)
            _note(connection, batch.person_id, changes.MIXED, made, now_utc, told)

    def counts(self, person_id: str) -> list[ContainerCount]:
        """A person's counts in order of the instant at which each was made, as answers have corrected them."""
        with self._session.reading() as connection:
            answers = stored_questions.load(connection, person_id, only_open=False)
            return as_answered(counts_of(connection, person_id), answers)

    def keep_count(self, count: ContainerCount, origin: str, now_utc: datetime | None = None) -> bool:
        """Keeps a count; one of the same container and end is replaced. Returns whether anything changed.

        now_utc  given: it is kept as a change that `undo` takes back
        raises   WrongUse where it overlaps another count of the container: the same pieces would be gone twice
        """
        with self._session.writing() as connection:
            persons.refuse_unknown(connection, count.person_id)
            made = put_count(connection, count, origin)
            _note(connection, count.person_id, changes.COUNTED, [made], now_utc)
            return made is not None

    def stock_counts(self, person_id: str) -> list[StockCount]:
        """What was counted on hand, in order of time."""
        table = stock_counts
        mine = select(table).where(table.c.person_id == person_id).order_by(table.c.counted_at)
        with self._session.reading() as connection:
            return [StockCount(row.source, instant(row.counted_at), row.amount) for row in connection.execute(mine)]

    def keep_stock_count(self, person_id: str, count: StockCount, now_utc: datetime | None = None) -> None:
        """Keeps what was counted on hand; a second count at the same instant replaces the first.

        now_utc  given: it is kept as a change that `undo` takes back
        """
        named = {"person_id": person_id, "source": count.source, "counted_at": stored(count.counted_at_utc)}
        with self._session.writing() as connection:
            persons.refuse_unknown(connection, person_id)
            made = supply_rows.put(connection, stock_counts, {**named, "amount": count.amount})
            _note(connection, person_id, changes.STOCKED, [made], now_utc)

    def ask(self, person_id: str, asked: Iterable[Question], now_utc: datetime) -> None:
        """Puts the questions of the place room; open ones that it no longer asks go."""
        asked = tuple(asked)
        with self._session.writing() as connection:
            stored_questions.withdraw(connection, person_id, asked, ASKED_BY_PLACE)
            stored_questions.ask(connection, asked, now_utc, ASKED_BY_PLACE)


def put_count(connection: Connection, count: ContainerCount, origin: str) -> supply_rows.RowChange | None:
    """Writes a count; None where it stood there already. Raises WrongUse where it overlaps another one."""
    for other in counts_of(connection, count.person_id):
        apart = other.container != count.container or other.to_utc == count.to_utc
        if not apart and other.from_utc < count.to_utc and count.from_utc < other.to_utc:
            raise WrongUse(
                f"the count of '{count.container}' overlaps one from {other.from_utc:%a %d %b %Y %H:%M} to "
                f"{other.to_utc:%a %d %b %Y %H:%M} UTC",
                "let each count begin where the last one ended: --from",
                "counts_overlap",
            )
        if other == count:
            return None
    row = {
        "person_id": count.person_id,
        "container": count.container,
        "to_at": stored(count.to_utc),
        "from_at": stored(count.from_utc),
        "source": count.source,
        "pieces_filled": count.pieces_filled,
        "pieces_left": count.pieces_left,
        "origin": origin,
    }
    return supply_rows.put(connection, container_counts, row)


def _state(connection: Connection, person_id: str, stated: Person | None) -> list[list[str | None]]:
    """Stores what a batch states of its source. Returns the facts that are others now."""
    if stated is None:
        return []
    before = persons.facts_as_text(connection, person_id)
    persons.write_person(connection, stated)
    persons.mark_changed(connection, person_id, BEGINNING)
    return persons.changed_facts(connection, person_id, before)


def _note(
    connection: Connection,
    person_id: str,
    kind: str,
    made: list[supply_rows.RowChange | None],
    now_utc: datetime | None,
    facts: Iterable[list[str | None]] = (),
) -> None:
    rows = [each for each in made if each is not None]
    if rows and now_utc is not None:
        changes.record(connection, person_id, kind, now_utc, {"rows": rows, "facts": list(facts)})


def counts_of(connection: Connection, person_id: str) -> list[ContainerCount]:
    """A person's counts in order of the instant at which each was made."""
    table = container_counts
    mine = select(table).where(table.c.person_id == person_id).order_by(table.c.to_at, table.c.container)
    return [
        ContainerCount(
            row.person_id,
            row.container,
            row.source,
            instant(row.from_at),
            instant(row.to_at),
            row.pieces_filled,
            row.pieces_left,
        )
        for row in connection.execute(mine)
    ]


def batches_of(connection: Connection, person_id: str) -> list[MixedBatch]:
    """A person's batches in order of the instant at which they were mixed."""
    mine = select(mixed_batches).where(mixed_batches.c.person_id == person_id)
    return [_batch(row) for row in connection.execute(mine.order_by(mixed_batches.c.mixed_at))]


def _row(batch: MixedBatch) -> dict[str, Any]:
    told = {name: str(v) if isinstance(v, Powder | WaterBy) else v for name, v in asdict(batch.mixture).items()}
    own = {"source": batch.source, "mixed_at": stored(batch.mixed_at_utc)}
    return {**own, "strength_g_per_ml": batch.strength_g_per_ml, **told}


def _batch(row: Any) -> MixedBatch:
    told = {name: getattr(row, name) for name in OF_MIXTURE}
    mixture = Mixture(**{**told, "powder": Powder(row.powder), "water_by": WaterBy(row.water_by)})
    return MixedBatch(row.person_id, row.number, row.source, instant(row.mixed_at), mixture, row.strength_g_per_ml)
