"""A person's readings, fast: all but the newest kept once more as Arrow files beside the table.

A year of readings row by row costs 160 ms; from the kept files it costs a few. The table stays the truth: the files
hold exactly its rows up to the last one's `last_at`, each from where the one before it ends, and are dropped in the
transaction that changes a row they hold. Files are added, never rewritten: what a night costs does not grow.

Reading the database file through a second library would be as fast and must not be done: two copies of SQLite in one
process drop each other's locks (sqlite.org/howtocorrupt.html, section 2.2.1), and one of them saw an empty table here.
"""

from io import BytesIO
from typing import Any, Final

import polars as pl
from sqlalchemy import Connection, Select, delete, func, insert, select

from gramrise.domain.frames import READINGS
from gramrise.store import input_tables, schema

COLUMNS: Final = ("at_utc", "glucose_mg_dl", "range", "offset_minutes")
# Our choice: two weeks of readings every five minutes are read row by row before another file is written; a night that
# looks back for days opens no more than one or two.
ROWS_OF_A_FILE: Final = 4_000
FILES: Final = schema.traces


def readings_of(connection: Connection, person_id: str, since: int | None) -> pl.DataFrame:
    """READINGS of a person, from a stored instant on; None: all."""
    mine = select(FILES.c.last_at, FILES.c.arrow).where(FILES.c.person_id == person_id).order_by(FILES.c.last_at)
    parts, known = [], since
    for last_at, arrow in connection.execute(mine if since is None else mine.where(FILES.c.last_at >= since)):
        part = pl.read_ipc(BytesIO(arrow))
        parts.append(part if since is None else part[int(part["at_utc"].search_sorted(since)) :])
        known = last_at + 1
    parts.append(_rows(connection, person_id, known))
    whose = pl.lit(person_id, dtype=pl.String).alias("person_id")
    kinds = {name: READINGS.schema[name] for name in COLUMNS}
    whole = pl.concat(parts) if len(parts) > 1 else parts[0]
    return READINGS.check(whole.select(whose, *(pl.col(name).cast(dtype) for name, dtype in kinds.items())))


def keep(connection: Connection, person_id: str) -> None:
    """Writes another file for every so many rows that are newer than the last one."""
    table, last = schema.readings, last_kept(connection, person_id)
    newer = _newer(select(func.count()).select_from(table).where(table.c.person_id == person_id), last)
    many = connection.execute(newer).scalar_one() // ROWS_OF_A_FILE * ROWS_OF_A_FILE
    if not many:
        return
    for part in _rows(connection, person_id, None if last is None else last + 1)[:many].iter_slices(ROWS_OF_A_FILE):
        into = BytesIO()
        part.write_ipc(into, compression="zstd")
        values = {"person_id": person_id, "last_at": int(part["at_utc"][-1]), "arrow": into.getvalue()}
        connection.execute(insert(FILES).values(**values))


def drop_from(connection: Connection, person_id: str, changed_from: int) -> None:
    """Forgets every file that holds a row that has changed, or ends after one that was added, and those after it."""
    connection.execute(delete(FILES).where(FILES.c.person_id == person_id, FILES.c.last_at >= changed_from))


def last_kept(connection: Connection, person_id: str) -> int | None:
    """The stored instant up to which readings are kept in files; None: there are none."""
    chosen = select(func.max(FILES.c.last_at)).where(FILES.c.person_id == person_id)
    last: int | None = connection.execute(chosen).scalar_one()
    return last


def _newer(chosen: Select[Any], last: int | None) -> Select[Any]:
    return chosen if last is None else chosen.where(schema.readings.c.at_utc > last)


def _rows(connection: Connection, person_id: str, since: int | None) -> pl.DataFrame:
    """Stored rows from an instant on, in order of time."""
    table = schema.readings
    chosen = select(*(table.c[name] for name in COLUMNS)).where(table.c.person_id == person_id).order_by(table.c.at_utc)
    if since is not None:
        chosen = chosen.where(table.c.at_utc >= since)
    return input_tables.fetch(connection, chosen, {name: input_tables.READINGS.schema[name] for name in COLUMNS})
