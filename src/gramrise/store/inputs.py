"""A person's inputs as a frame each: everything told, or what was told of late."""

from typing import Final

import polars as pl
from sqlalchemy import ColumnElement, Connection, func, select

from gramrise.domain.findings import Inputs
from gramrise.domain.person import Person
from gramrise.domain.words import EventKind
from gramrise.store import input_tables, readings_files, schema
from gramrise.store.dose_grams import with_grams
from gramrise.store.questions import dose_answers, stored_questions

OF_TIME: Final = (input_tables.FINGERS, input_tables.DOSES, input_tables.EVENTS)


def inputs_of(connection: Connection, person: Person, since: int | None, whole_log: bool = False) -> Inputs:
    """The inputs from a stored instant on; None: all.

    whole_log   late readings, finger-sticks and events, every dose, what lasts until then, and food if any was
                ever logged: what a night goes on from
    """
    chosen = {kind: select(kind.table).where(kind.table.c.person_id == person.person_id) for kind in OF_TIME}
    if since is not None:
        chosen[input_tables.FINGERS] = chosen[input_tables.FINGERS].where(schema.fingers.c.at_utc >= since)
        late = lasting_from(since) if whole_log else schema.events.c.at_utc >= since
        chosen[input_tables.EVENTS] = chosen[input_tables.EVENTS].where(late)
        if not whole_log:
            chosen[input_tables.DOSES] = chosen[input_tables.DOSES].where(schema.doses.c.taken_at_utc >= since)
    fetched = {kind: input_tables.fetch(connection, which, kind.schema) for kind, which in chosen.items()}
    if since is not None and whole_log:
        fetched[input_tables.EVENTS] = with_first_food(connection, fetched[input_tables.EVENTS], person.person_id)
    explained = stored_questions.load(connection, person.person_id, only_open=False)
    told = dose_answers.lay_over_doses(fetched[input_tables.DOSES], explained, person)
    return Inputs(
        person,
        readings=readings_files.readings_of(connection, person.person_id, since),
        fingers=input_tables.as_contract(input_tables.FINGERS, fetched[input_tables.FINGERS]),
        doses=with_grams(input_tables.as_contract(input_tables.DOSES, told), person),
        events=input_tables.as_contract(input_tables.EVENTS, fetched[input_tables.EVENTS]),
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
    first = input_tables.fetch(connection, food.order_by(table.c.at_utc).limit(1), input_tables.EVENTS.schema)
    return pl.concat([first, events])
