"""Each treatment's own numbers and picture, kept from night to night: opaque here, read by those who wrote them."""

from datetime import datetime

import polars as pl
from sqlalchemy import Connection, delete, insert, select

from gramrise.domain.kept import Kept, ToKeep, paths_of
from gramrise.store.schema import treatments_kept as table


def load(connection: Connection, person_id: str, until_utc: datetime) -> Kept:
    """What earlier nights left; everything told of the time before `until_utc` must be as it was then."""
    chosen = select(table.c.first_dose_at, table.c.key, table.c.numbers).where(table.c.person_id == person_id)
    rows = connection.execute(chosen.order_by(table.c.first_dose_at))
    return Kept(until_utc, {first: (key, numbers) for first, key, numbers in rows})


def paths(connection: Connection, person_id: str) -> pl.DataFrame:
    """PATHS of all pictures that are kept."""
    chosen = select(table.c.first_dose_at, table.c.picture).where(table.c.person_id == person_id)
    rows = connection.execute(chosen.order_by(table.c.first_dose_at))
    return paths_of(person_id, ((first, picture) for first, picture in rows))


def change(connection: Connection, person_id: str, to_keep: ToKeep) -> None:
    """Puts what was measured anew in the place of what no longer stands."""
    mine = table.c.person_id == person_id
    connection.execute(delete(table).where(mine, table.c.first_dose_at >= to_keep.from_us))
    names = ("first_dose_at", "key", "numbers", "picture")
    rows = [{"person_id": person_id, **dict(zip(names, row, strict=True))} for row in to_keep.treatments]
    if rows:
        connection.execute(insert(table), rows)
