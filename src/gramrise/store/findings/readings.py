"""A person's readings, fetched when asked for, with a fingerprint of each day: nothing is kept beside the rows.

SQLite hands over a day as one text, which is read and hashed several times faster than its rows are fetched: a year of
readings every five minutes takes some 25 ms.
"""

from functools import partial
from typing import Final

import polars as pl
from sqlalchemy import Connection, func, select, text

from gramrise.domain.frames import READINGS
from gramrise.domain.memo import DAY_US, NO_READINGS, ReadingsByDay, fingerprint
from gramrise.store import input_tables, schema

COLUMNS: Final = ("at_utc", "glucose_mg_dl", "range", "offset_minutes")
# The rows of a day stand in the order of the table's key, so its text depends on nothing else. Values are written to
# fifteen digits: a change that shows in the sixteenth is none. Whole ones, and ranges that say `in`, are written short,
# as writing costs more than reading.
DAYS_OF_SQLITE: Final = text(
    """
    WITH RECURSIVE days(from_at) AS
      (SELECT :first UNION ALL SELECT from_at + :day FROM days WHERE from_at + :day <= :last)
    SELECT (SELECT group_concat(at_utc) || ';'
              || group_concat(CASE WHEN glucose_mg_dl = CAST(glucose_mg_dl AS INTEGER)
                              THEN CAST(glucose_mg_dl AS INTEGER) ELSE glucose_mg_dl END) || ';'
              || coalesce(group_concat(CASE WHEN "range" <> 'in' THEN at_utc || "range" END), '')
            FROM readings WHERE person_id = :person_id AND at_utc >= from_at AND at_utc < from_at + :day)
    FROM days
    """
)
# The same of PostgreSQL, hashed where the rows are: 32 bytes a day come over the network.
DAYS_OF_POSTGRESQL: Final = text(
    """
    SELECT at_utc / :day - (CASE WHEN at_utc % :day < 0 THEN 1 ELSE 0 END) AS day,
      sha256(convert_to(string_agg(at_utc || ',' || glucose_mg_dl || ',' || "range", ';' ORDER BY at_utc), 'UTF8'))
    FROM readings WHERE person_id = :person_id GROUP BY 1
    """
)


def readings_of(connection: Connection, person_id: str, since: int | None) -> pl.DataFrame:
    """READINGS of a person, from a stored instant on; None: all."""
    return _between(connection, person_id, since, None)


def by_day(connection: Connection, person_id: str) -> ReadingsByDay:
    """The person's readings while the connection is open."""
    at = schema.readings.c.at_utc
    # Asked one by one: SQLite looks up either end, but walks over all rows for both at once.
    first, last = (
        connection.execute(select(end(at)).where(schema.readings.c.person_id == person_id)).scalar_one_or_none()
        for end in (func.min, func.max)
    )
    fetch = partial(_between, connection, person_id)
    if first is None or last is None:
        return ReadingsByDay(fetch)
    first_day = first // DAY_US
    days = _prints(connection, person_id, first_day, last // DAY_US)
    return ReadingsByDay(fetch, first_day, days, first, last)


def _prints(connection: Connection, person_id: str, first_day: int, last_day: int) -> tuple[bytes, ...]:
    """A fingerprint of each day's readings."""
    if connection.dialect.name == "postgresql":
        hashed = connection.execute(DAYS_OF_POSTGRESQL, {"person_id": person_id, "day": DAY_US})
        by_day = {day: fingerprint(told) for day, told in hashed}
        return tuple(by_day.get(day, NO_READINGS) for day in range(first_day, last_day + 1))
    told = {"person_id": person_id, "first": first_day * DAY_US, "last": last_day * DAY_US, "day": DAY_US}
    texts = connection.execute(DAYS_OF_SQLITE, told).scalars()
    return tuple(NO_READINGS if read is None else fingerprint(read) for read in texts)


def _between(connection: Connection, person_id: str, from_us: int | None, to_us: int | None) -> pl.DataFrame:
    """READINGS from one stored instant on and before another; None: no such bound."""
    table = schema.readings
    chosen = select(*(table.c[name] for name in COLUMNS)).where(table.c.person_id == person_id).order_by(table.c.at_utc)
    if from_us is not None:
        chosen = chosen.where(table.c.at_utc >= from_us)
    if to_us is not None:
        chosen = chosen.where(table.c.at_utc < to_us)
    fetched = input_tables.fetch(connection, chosen, {name: input_tables.READINGS.schema[name] for name in COLUMNS})
    whose = pl.lit(person_id, dtype=pl.String).alias("person_id")
    return READINGS.check(fetched.select(whose, *(pl.col(name).cast(READINGS.schema[name]) for name in COLUMNS)))
