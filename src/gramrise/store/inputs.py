"""A person's inputs as a frame each: everything told, or what was told of late."""

from datetime import datetime
from typing import Final

import polars as pl
from sqlalchemy import Connection, select

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import DOSES, READINGS
from gramrise.domain.person import Person
from gramrise.store import input_tables, supplies
from gramrise.store.dose_grams import with_batches, with_grams
from gramrise.store.findings.readings import readings_of
from gramrise.store.instants import instant, stored
from gramrise.store.questions import dose_answers, stored_questions
from gramrise.store.questions.count_answers import with_counted

OF_TIME: Final = (input_tables.FINGERS, input_tables.DOSES, input_tables.EVENTS)


def inputs_of(connection: Connection, person: Person, since: int | None, with_readings: bool = True) -> Inputs:
    """The inputs from a stored instant on; None: all.

    with_readings   False: without the readings, for a caller who fetches those it needs (`findings.readings.by_day`)
    """
    chosen = {
        kind: select(kind.table)
        .where(kind.table.c.person_id == person.person_id)
        .order_by(*(kind.table.c[name] for name in kind.identity))  # a server keeps rows in no order
        for kind in OF_TIME
    }
    if since is not None:
        for kind in OF_TIME:
            at = kind.table.c["taken_at_utc" if kind is input_tables.DOSES else "at_utc"]
            chosen[kind] = chosen[kind].where(at >= since)
    fetched = {kind: input_tables.fetch(connection, which, kind.schema) for kind, which in chosen.items()}
    explained = stored_questions.load(connection, person.person_id, only_open=False)
    told = dose_answers.lay_over_doses(fetched[input_tables.DOSES], explained, person)
    doses = with_counted(input_tables.as_contract(input_tables.DOSES, told), explained)
    if since is not None:
        doses = doses.filter(pl.col("taken_at_utc") >= instant(since))
    return Inputs(
        person,
        readings=readings_of(connection, person.person_id, since) if with_readings else READINGS.empty(),
        fingers=input_tables.as_contract(input_tables.FINGERS, fetched[input_tables.FINGERS]),
        doses=_in_grams(connection, doses, person),
        events=input_tables.as_contract(input_tables.EVENTS, fetched[input_tables.EVENTS]),
    )


def doses_since(connection: Connection, person: Person, since_utc: datetime) -> tuple[pl.DataFrame, list[int | None]]:
    """Doses from an instant on as they count, by answers, strengths and bottles; and which import brought each.

    A dose that an answer drops is left out.
    """
    columns = input_tables.DOSES.table.c
    mine = (columns.person_id == person.person_id, columns.taken_at_utc >= stored(since_utc))
    chosen = select(input_tables.DOSES.table).where(*mine)
    found = input_tables.fetch(connection, chosen, input_tables.DOSES.schema)
    explained = stored_questions.load(connection, person.person_id, only_open=False)
    told = dose_answers.lay_over_doses(found, explained, person)
    told = told.sort(DOSES.order, maintain_order=True)  # as the contract will, so that each row keeps who brought it
    counted = _in_grams(connection, input_tables.as_contract(input_tables.DOSES, told), person)
    return counted, told["import_id"].to_list()


def _in_grams(connection: Connection, doses: pl.DataFrame, person: Person) -> pl.DataFrame:
    return with_batches(with_grams(doses, person), supplies.batches_of(connection, person.person_id), person)
