"""When inputs were logged and when they changed, asked of the tables without reading frames."""

from datetime import datetime

from sqlalchemy import Connection, select

from gramrise.store import schema
from gramrise.store.instants import instant, instant_or_none, stored


def has_inputs(connection: Connection, person_id: str, start_utc: datetime, end_utc: datetime) -> bool:
    """Whether a reading or a dose lies in [start, end)."""
    span = (stored(start_utc), stored(end_utc) - 1)
    for column in (schema.readings.c.at_utc, schema.doses.c.taken_at_utc):
        mine = column.table.c.person_id == person_id
        if connection.execute(select(column).where(mine, column.between(*span)).limit(1)).first() is not None:
            return True
    return False


def has_readings(connection: Connection, person_id: str, start_utc: datetime, end_utc: datetime) -> bool:
    """Whether a reading lies in [start, end)."""
    table = schema.readings.c
    mine = (table.person_id == person_id, table.at_utc.between(stored(start_utc), stored(end_utc) - 1))
    return connection.execute(select(table.at_utc).where(*mine).limit(1)).first() is not None


def last_reading_at(connection: Connection, person_id: str) -> datetime | None:
    """The instant of the latest reading; None when there is none."""
    table = schema.readings
    chosen = select(table.c.at_utc).where(table.c.person_id == person_id).order_by(table.c.at_utc.desc())
    return instant_or_none(connection.execute(chosen.limit(1)).scalar_one_or_none())


def last_data_at(connection: Connection, person_id: str) -> datetime | None:
    """The instant of the latest reading or dose, where "the last days of data" end; None when there is neither."""
    ends: list[datetime] = []
    for column in (schema.readings.c.at_utc, schema.doses.c.taken_at_utc):
        chosen = select(column).where(column.table.c.person_id == person_id).order_by(column.desc()).limit(1)
        ends += [instant(each) for each in connection.execute(chosen).scalars()]
    return max(ends, default=None)


def changed_from(connection: Connection, person_id: str) -> datetime | None:
    """The earliest instant whose inputs changed since the findings were saved; None: nothing changed."""
    chosen = select(schema.persons.c.changed_from).where(schema.persons.c.person_id == person_id)
    return instant_or_none(connection.execute(chosen).scalar_one_or_none())


def inputs_version(connection: Connection, person_id: str) -> int:
    """The number that every change of an input or fact raises; 0 for an unknown person."""
    chosen = select(schema.persons.c.inputs_version).where(schema.persons.c.person_id == person_id)
    return int(connection.execute(chosen).scalar_one_or_none() or 0)


def noticed(connection: Connection, person_id: str) -> list[tuple[datetime, str]]:
    """Instants of glucose given with who noticed that it was needed, where somebody said so, by time."""
    table = schema.doses
    mine = (table.c.person_id == person_id, table.c.noticed != "")
    chosen = (
        select(table.c.taken_at_utc, table.c.noticed).where(*mine).order_by(table.c.taken_at_utc, *table.primary_key)
    )
    return [(instant(row.taken_at_utc), row.noticed) for row in connection.execute(chosen)]
