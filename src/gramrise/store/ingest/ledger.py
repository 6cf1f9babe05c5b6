"""The ledger of imports read back: files taken in, rows held back, corrections and conflicts."""

import json
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Table, select

from gramrise.domain.batch import Quarantined
from gramrise.domain.problems import Trouble
from gramrise.store import schema
from gramrise.store.instants import instant, stored


def quarantined(connection: Connection, person_id: str | None) -> list[tuple[str, Quarantined]]:
    """Rows held back, as (person_id, what was held), oldest import first."""
    table = schema.quarantine
    chosen = select(table).order_by(table.c.quarantine_id)
    if person_id is not None:
        chosen = chosen.where(table.c.person_id == person_id)
    return [
        (
            row.person_id,
            Quarantined(Trouble(row.code, row.file, row.row, row.column, row.found, row.what, row.mend), row.text),
        )
        for row in connection.execute(chosen)
    ]


def lines_set_aside(connection: Connection, person_id: str, since_utc: datetime) -> list[tuple[str, int]]:
    """Files taken in after an instant of which lines were set aside, oldest first: their name, and how many lines."""
    table = schema.imports.c
    mine = (table.person_id == person_id, table.quarantined > 0, table.taken_in_at > stored(since_utc))
    chosen = select(table.file, table.quarantined).where(*mine).order_by(table.import_id)
    return [(row.file, row.quarantined) for row in connection.execute(chosen)]


def ledger(connection: Connection, person_id: str | None) -> list[dict[str, Any]]:
    """The ledger of imports, oldest first, one document a file."""
    table = schema.imports
    chosen = select(table).order_by(table.c.import_id)
    if person_id is not None:
        chosen = chosen.where(table.c.person_id == person_id)
    made = []
    for row in connection.execute(chosen):
        document = dict(row._mapping)
        document["taken_in_at_utc"] = instant(document.pop("taken_in_at"))
        document["remarks"] = json.loads(document["remarks"])
        made.append(document)
    return made


def documents(connection: Connection, table: Table, person_id: str) -> list[dict[str, Any]]:
    """Rows of `corrections` or `conflicts`, oldest first, their JSON read."""
    chosen = select(table).where(table.c.person_id == person_id).order_by(*table.primary_key.columns)
    made = []
    for row in connection.execute(chosen):
        document = dict(row._mapping)
        for name in ("identity", "before", "after", "kept", "other"):
            if name in document:
                document[name] = json.loads(document[name])
        made.append(document)
    return made
