"""A person's readings, fast: all but the newest kept once more as one Arrow file beside the table.

A year of readings row by row costs 160 ms of every night; from the kept file it costs a few. The table stays the truth:
the file holds exactly its rows up to `last_at`, and is dropped in the transaction that changes one of them.

Reading the database file through a second library would be as fast and must not be done: two copies of SQLite in one
process drop each other's locks (sqlite.org/howtocorrupt.html, section 2.2.1), and one of them saw an empty table here.
"""

from io import BytesIO
from typing import Any, Final

import polars as pl
from sqlalchemy import Connection, Row, delete, func, insert, select

from gramrise.domain.frames import READINGS
from gramrise.store import rows, schema

COLUMNS: Final = ("at_utc", "glucose_mg_dl", "range", "offset_minutes")
# Our choice: two weeks of readings every five minutes are read row by row before the file is written anew.
NEWEST_ROWS: Final = 4_000


def readings_of(connection: Connection, person_id: str, since: int | None) -> pl.DataFrame:
    """READINGS of a person, from a stored instant on; None: all."""
    kept = _kept(connection, person_id)
    parts = []
    if kept is not None and (since is None or since <= kept.last_at):
        old = pl.read_ipc(BytesIO(kept.arrow))
        parts.append(old if since is None else old.filter(pl.col("at_utc") >= since))
        since = kept.last_at + 1
    parts.append(_rows(connection, person_id, since))
    whose = pl.lit(person_id, dtype=pl.String).alias("person_id")
    kinds = {name: READINGS.schema[name] for name in COLUMNS}
    return READINGS.check(pl.concat(parts).select(whose, *(pl.col(name).cast(dtype) for name, dtype in kinds.items())))


def keep(connection: Connection, person_id: str) -> None:
    """Writes the file anew where many rows are newer than it."""
    kept, table = _kept(connection, person_id), schema.readings
    newer = select(func.count()).select_from(table).where(table.c.person_id == person_id)
    if kept is not None:
        newer = newer.where(table.c.at_utc > kept.last_at)
    if connection.execute(newer).scalar_one() < NEWEST_ROWS:
        return
    whole = _rows(connection, person_id, None)
    into = BytesIO()
    whole.write_ipc(into, compression="zstd")
    connection.execute(delete(schema.traces).where(schema.traces.c.person_id == person_id))
    values = {"person_id": person_id, "last_at": int(whole["at_utc"][-1]), "arrow": into.getvalue()}
    connection.execute(insert(schema.traces).values(**values))


def drop_from(connection: Connection, person_id: str, changed_from: int) -> None:
    """Forgets the file if a row it holds has changed, or one was added before its end."""
    kept = schema.traces.c
    connection.execute(delete(schema.traces).where(kept.person_id == person_id, kept.last_at >= changed_from))


def _kept(connection: Connection, person_id: str) -> Row[Any, Any] | None:
    held = schema.traces
    chosen = select(held.c.last_at, held.c.arrow).where(held.c.person_id == person_id)
    return connection.execute(chosen).first()


def _rows(connection: Connection, person_id: str, since: int | None) -> pl.DataFrame:
    """Stored rows from an instant on, in order of time."""
    table = schema.readings
    chosen = select(*(table.c[name] for name in COLUMNS)).where(table.c.person_id == person_id).order_by(table.c.at_utc)
    if since is not None:
        chosen = chosen.where(table.c.at_utc >= since)
    return rows.fetch(connection, chosen, {name: rows.READINGS.schema[name] for name in COLUMNS})
