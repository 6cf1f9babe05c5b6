"""Undoing an import: the file was another person's, or of the wrong kind."""

from sqlalchemy import Connection, delete, select

from gramrise.domain.problems import WrongUse
from gramrise.store import persons, schema
from gramrise.store.ingest.corrections import put_back
from gramrise.store.input_tables import INPUT_TABLES


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
    for row in connection.execute(undone).all():
        put_back(connection, row)
    connection.execute(delete(made).where(made.c.import_id == import_id))
    for kind in INPUT_TABLES:
        connection.execute(delete(kind.table).where(kind.table.c.import_id == import_id))
    asked = schema.questions
    connection.execute(delete(asked).where(asked.c.import_id == import_id, asked.c.answer.is_(None)))
    for table in (schema.conflicts, schema.quarantine, imports):
        connection.execute(delete(table).where(table.c.import_id == import_id))
    persons.mark_changed(connection, entry.person_id, 0)
