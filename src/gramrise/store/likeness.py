"""Readings that another person has, too: instants and values alike, as when a file is filed under the wrong child."""

from typing import Final

import polars as pl
from sqlalchemy import Connection, select

from gramrise.domain.frames import READINGS
from gramrise.store import rows, schema
from gramrise.store.moments import stored

# Our choice: so many readings, spread over the file, are looked up first; only who shares half of them is read whole.
# 24 look-ups a person keep this under a hundredth of a second for a thousand persons.
LOOKED_UP: Final = 24


def like_others(connection: Connection, readings: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """Readings of other persons that equal these in instant and value, by person_id; empty for a few readings only.

    readings  READINGS of one person, as a file brought them
    returns   READINGS of each other person who shares them, the shared rows alone
    """
    if readings.height < LOOKED_UP:
        return {}
    mine = READINGS.check(readings)
    sample = mine.gather_every(max(1, mine.height // LOOKED_UP)).head(LOOKED_UP)
    held, table = schema.persons, schema.readings
    instants = [stored(at) for at in sample["at_utc"]]
    chosen = (
        select(table.c.person_id, table.c.at_utc, table.c.glucose_mg_dl)
        .select_from(held.join(table, held.c.person_id == table.c.person_id))
        .where(held.c.person_id != mine["person_id"][0], table.c.at_utc.in_(instants))
    )
    types = {name: rows.READINGS.schema[name] for name in ("person_id", "at_utc", "glucose_mg_dl")}
    near = rows.fetch(connection, chosen, types).with_columns(pl.col("at_utc").cast(READINGS.schema["at_utc"]))
    shared = near.join(sample.select("at_utc", "glucose_mg_dl"), on=["at_utc", "glucose_mg_dl"], how="semi")
    counts = dict(shared.group_by("person_id", maintain_order=True).len().iter_rows())
    return {
        other: _shared_whole(connection, mine, other) for other, n in sorted(counts.items()) if 2 * n >= sample.height
    }


def _shared_whole(connection: Connection, mine: pl.DataFrame, other: str) -> pl.DataFrame:
    table = schema.readings
    first, last = (stored(mine["at_utc"][at]) for at in (0, -1))
    chosen = select(table).where(table.c.person_id == other, table.c.at_utc.between(first, last))
    theirs = rows.as_contract(rows.READINGS, rows.fetch(connection, chosen, rows.READINGS.schema))
    return theirs.join(mine.select("at_utc", "glucose_mg_dl"), on=["at_utc", "glucose_mg_dl"], how="semi")
