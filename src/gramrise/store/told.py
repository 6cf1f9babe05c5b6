"""A person's inputs as a frame each: everything told, or what was told of late."""

from typing import Final

import polars as pl
from sqlalchemy import ColumnElement, Connection, func, select

from gramrise.domain.findings import Inputs
from gramrise.domain.person import Person
from gramrise.domain.words import EventKind
from gramrise.store import answers, asked, rows, schema, trace
from gramrise.store.amounts import with_grams

OF_TIME: Final = (rows.FINGERS, rows.DOSES, rows.EVENTS)


def inputs_of(connection: Connection, person: Person, since: int | None, whole_log: bool = False) -> Inputs:
    """The inputs from a stored instant on; None: all.

    whole_log   late readings, finger-sticks and events, every dose, what lasts until then, and food if any was
                ever logged: what a night goes on from
    """
    chosen = {kind: select(kind.table).where(kind.table.c.person_id == person.person_id) for kind in OF_TIME}
    if since is not None:
        chosen[rows.FINGERS] = chosen[rows.FINGERS].where(schema.fingers.c.at_utc >= since)
        late = lasting_from(since) if whole_log else schema.events.c.at_utc >= since
        chosen[rows.EVENTS] = chosen[rows.EVENTS].where(late)
        if not whole_log:
            chosen[rows.DOSES] = chosen[rows.DOSES].where(schema.doses.c.taken_at_utc >= since)
    fetched = {kind: rows.fetch(connection, which, kind.schema) for kind, which in chosen.items()}
    if since is not None and whole_log:
        fetched[rows.EVENTS] = with_first_food(connection, fetched[rows.EVENTS], person.person_id)
    explained = asked.load(connection, person.person_id, only_open=False)
    told = answers.lay_over_doses(fetched[rows.DOSES], explained, person)
    return Inputs(
        person,
        readings=trace.readings_of(connection, person.person_id, since),
        fingers=rows.as_contract(rows.FINGERS, fetched[rows.FINGERS]),
        doses=with_grams(rows.as_contract(rows.DOSES, told), person),
        events=rows.as_contract(rows.EVENTS, fetched[rows.EVENTS]),
    )


def lasting_from(since: int) -> ColumnElement[bool]:
    """Events that last until a stored instant or begin at or after it."""
    return func.coalesce(schema.events.c.until_utc, schema.events.c.at_utc) >= since


def with_first_food(connection: Connection, events: pl.DataFrame, person_id: str) -> pl.DataFrame:
    """The events with, where none of them is food, the first ever logged: that any was, matters long afterwards."""
    table = schema.events
    if (events["kind"] == str(EventKind.FOOD)).any():
        return events
    food = select(table).where(table.c.person_id == person_id, table.c.kind == str(EventKind.FOOD))
    first = rows.fetch(connection, food.order_by(table.c.at_utc).limit(1), rows.EVENTS.schema)
    return pl.concat([first, events])
