"""What the household has mixed: batches, each of which gives its strength to what is taken from it."""

import json
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select, update

from gramrise.domain.mixtures import MixedBatch, Mixture, Powder, WaterBy
from gramrise.domain.problems import WrongUse
from gramrise.store import persons
from gramrise.store.instants import instant, stored
from gramrise.store.schema import mixed_batches
from gramrise.store.session import Session

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
        self, person_id: str, source: str, mixed_at_utc: datetime, mixture: Mixture, strength_g_per_ml: float | None
    ) -> MixedBatch:
        """Logs a batch under the next number; grams taken from it follow from its strength. Raises WrongUse.

        strength_g_per_ml  None where nobody knows it: grams taken from it are unknown then
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
            connection.execute(
                insert(mixed_batches).values(person_id=person_id, number=number, before="[]", **_row(batch))
            )
            persons.mark_changed(connection, person_id, stored(mixed_at_utc))
            return batch

    def correct_batch(self, batch: MixedBatch) -> None:
        """Replaces a logged batch; what stood there is remembered. Raises WrongUse for a number there is not."""
        mine = (mixed_batches.c.person_id == batch.person_id, mixed_batches.c.number == batch.number)
        with self._session.writing() as connection:
            row = connection.execute(select(mixed_batches).where(*mine)).first()
            if row is None:
                raise WrongUse(f"there is no batch {batch.number}", "gramrise mix lists the batches")
            before = [*json.loads(row.before), _row(_batch(row))]
            connection.execute(update(mixed_batches).where(*mine).values(before=json.dumps(before), **_row(batch)))
            earliest = min(row.mixed_at, stored(batch.mixed_at_utc))
            persons.mark_changed(connection, batch.person_id, earliest)


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
