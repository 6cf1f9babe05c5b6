"""A row that an import corrected, as it was before."""

import json
from typing import Any

from sqlalchemy import Connection, Row, update

from gramrise.store.input_tables import INPUT_TABLES
from gramrise.store.upsert import insert_into

TAKEN_OUT = "{}"  # what a row became that was taken out; `before` holds all of it


def put_back(connection: Connection, correction: Row[Any]) -> None:
    """A corrected row gets the values and the import it had before."""
    table = {kind.name: kind for kind in INPUT_TABLES}[correction.table].table
    if correction.after == TAKEN_OUT:  # its sender had taken it back
        connection.execute(insert_into(connection, table).on_conflict_do_nothing(), json.loads(correction.before))
        return
    named = [table.c[name] == value for name, value in json.loads(correction.identity).items()]
    before = {**json.loads(correction.before), "import_id": correction.before_import_id}
    mine = (table.c.person_id == correction.person_id, table.c.import_id == correction.import_id)
    connection.execute(update(table).where(*mine, *named).values(**before))
