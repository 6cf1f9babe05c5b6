"""Everything that was told about one person, as one document, and such a document brought into a database.

What is found from it (findings, remembered results) is left out: it is found again, the same. So is what belongs to the
house and not to the person: mail on its way, runs, panels, and the list of changes that `undo` knows.
"""

import base64
import json
from typing import Any, Final

from sqlalchemy import Connection, Integer, LargeBinary, Table, insert, select

from gramrise.domain.problems import WrongUse
from gramrise.store import schema

FORM: Final = "gramrise person, form 1"
# Tables that go along, parents before children; every other table of a person is named in LEFT, and a test says so.
KEPT: Final = (
    "persons",
    "person_facts",
    "care_plans",
    "imports",
    "readings",
    "fingers",
    "doses",
    "events",
    "weights",
    "corrections",
    "also_stated",
    "source_records",
    "conflicts",
    "quarantine",
    "questions",
    "shown_predictions",
    "shown_factors",
    "cards",
    "signed_references",
    "mixed_batches",
    "container_counts",
    "stock_counts",
)
LEFT: Final = frozenset(
    {"findings", "blocks", "outbox", "run_persons", "panels", "changes", "devices", "phone_entries"}
)
# Numbers of a file's entry in the ledger: the other database gives its own.
_OF_AN_IMPORT: Final = ("import_id", "before_import_id")


def document_of(connection: Connection, person_id: str) -> dict[str, Any]:
    """The document of a person: for each table the names of its columns, and its rows in the order of the key."""
    tables = {}
    for name in KEPT:
        table = schema.METADATA.tables[name]
        columns = [column for column in table.columns if column.name != "person_id"]
        chosen = select(*columns).where(table.c.person_id == person_id).order_by(*table.primary_key.columns)
        rows = [[_told(value) for value in row] for row in connection.execute(chosen)]
        tables[name] = {"columns": [column.name for column in columns], "rows": rows}
    return {"form": FORM, "person_id": person_id, "tables": tables}


def _told(value: Any) -> Any:
    return {"base64": base64.b64encode(value).decode("ascii")} if isinstance(value, bytes) else value


def bring_in(connection: Connection, document: dict[str, Any], as_id: str | None = None) -> str:
    """Adds the person of a document, under its id or another; returns the id.

    raises  WrongUse for what is no such document, for an id that somebody here has, for a column we do not know
    """
    if document.get("form") != FORM:
        raise WrongUse("this is no document of a person", "name a folder written by `gramrise export`")
    person_id = as_id or str(document["person_id"])
    taken = select(schema.persons.c.person_id).where(schema.persons.c.person_id == person_id)
    if connection.execute(taken).first() is not None:
        raise WrongUse(f"somebody here has the id '{person_id}'", "bring them in under another: --as ID")
    numbers: dict[int, int] = {}
    for name in KEPT:
        table = schema.METADATA.tables[name]
        told = document["tables"].get(name)
        if told:
            _put(connection, table, person_id, told["columns"], told["rows"], numbers)
    return person_id


def _put(
    connection: Connection,
    table: Table,
    person_id: str,
    names: list[str],
    rows: list[list[Any]],
    numbers: dict[int, int],
) -> None:
    unknown = [name for name in names if name not in table.c]
    if unknown:
        raise WrongUse(
            f"the document knows columns of {table.name} that this gramrise does not: {', '.join(unknown)}",
            "install the gramrise that wrote it, or a newer one",
        )
    counted = _counted(table)
    made = []
    for row in rows:
        values = {name: _value(table, name, value, numbers) for name, value in zip(names, row, strict=True)}
        if "reference" in values:  # a sign-off is one document, and says whose it is
            values["reference"] = json.dumps(json.loads(values["reference"]) | {"person_id": person_id})
        own = values.pop(counted) if counted else None
        if table.name == "imports":
            entered = connection.execute(insert(table).values(person_id=person_id, **values)).inserted_primary_key
            assert entered is not None
            numbers[int(str(own))] = int(entered[0])
        else:
            made.append({"person_id": person_id, **values})
    if made:
        connection.execute(insert(table), made)


def _counted(table: Table) -> str | None:
    """The column of a table's own running number, which the database gives; None for a key that says something."""
    keys = list(table.primary_key.columns)
    return keys[0].name if len(keys) == 1 and isinstance(keys[0].type, Integer) else None


def _value(table: Table, name: str, value: Any, numbers: dict[int, int]) -> Any:
    if name in _OF_AN_IMPORT and value is not None and table.name != "imports":
        return numbers.get(int(value))
    if isinstance(table.c[name].type, LargeBinary) and isinstance(value, dict):
        return base64.b64decode(value["base64"])
    return value
