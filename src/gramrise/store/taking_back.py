"""Undoing an import: the file was another person's, or of the wrong kind."""

import json

from sqlalchemy import Connection, delete, select, update

from gramrise.domain.problems import WrongUse
from gramrise.store import ledger, schema, trace
from gramrise.store.rows import INPUT_TABLES


def take_back(connection: Connection, import_id: int) -> None:
    """Rows the import added go, rows it corrected get their old values, its open questions and ledger entry go.

    raises WrongUse for an import there is not
    """
    imports = schema.imports
    entry = connection.execute(select(imports).where(imports.c.import_id == import_id)).first()
    if entry is None:
        raise WrongUse(f"there is no import {import_id}", "look at the ledger of imports")
    made = schema.corrections
    undone = select(made).where(made.c.import_id == import_id).order_by(made.c.correction_id.desc())
    by_name = {kind.name: kind for kind in INPUT_TABLES}
    for row in connection.execute(undone).all():
        table = by_name[row.table].table
        named = [table.c[name] == value for name, value in json.loads(row.identity).items()]
        before = {**json.loads(row.before), "import_id": row.before_import_id}
        connection.execute(
            update(table)
            .where(table.c.person_id == row.person_id, table.c.import_id == import_id, *named)
            .values(**before)
        )
    connection.execute(delete(made).where(made.c.import_id == import_id))
    for kind in INPUT_TABLES:
        connection.execute(delete(kind.table).where(kind.table.c.import_id == import_id))
    asked = schema.questions
    connection.execute(delete(asked).where(asked.c.import_id == import_id, asked.c.answer.is_(None)))
    for table in (schema.conflicts, schema.quarantine, imports):
        connection.execute(delete(table).where(table.c.import_id == import_id))
    trace.drop_from(connection, entry.person_id, 0)
    ledger.mark_changed(connection, entry.person_id, 0)
