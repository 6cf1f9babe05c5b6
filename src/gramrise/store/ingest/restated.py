"""Looking again at a file that is known: its own doses give way to what it states now.

Once its source is stated, a dose of no source becomes one of that source: another identity, the same glucose. A dose
about which the family has answered stays as they explained it.
"""

import json
from datetime import datetime
from typing import Any, Final

import polars as pl
from sqlalchemy import Connection, delete, select

from gramrise.store import input_tables, schema
from gramrise.store.ingest.corrections import put_back
from gramrise.store.instants import MICROSECONDS_IN_A_MINUTE, stored
from gramrise.store.questions.kinds import MAYBE_TWICE, WHICH_AMOUNT

KEY: Final = list(input_tables.DOSES.identity)


def without_explained(connection: Connection, import_id: int, frame: pl.DataFrame) -> pl.DataFrame:
    """Stored-form doses as the file states them now, less those the family has explained since it was first read."""
    explained = _explained(connection, import_id)
    return frame.join(explained, on=["taken_at_utc", "amount"], how="anti", nulls_equal=True, maintain_order="left")


def drop_not_restated(connection: Connection, import_id: int, restated: pl.DataFrame) -> list[int]:
    """Takes out the import's doses that its file no longer states, with the open questions about them.

    restated  stored-form doses of the whole file as it states them now
    Returns the stored instants that changed.
    """
    stays = pl.concat([restated.select(KEY), _explained(connection, import_id).select(KEY)])
    gone = _own(connection, import_id).join(stays, on=KEY, how="anti")
    for dose in gone.to_dicts():
        _take_out(connection, import_id, dose)
        _forget_questions(connection, import_id, dose)
    return [int(at) for at in gone["taken_at_utc"]]


def _own(connection: Connection, import_id: int) -> pl.DataFrame:
    person = select(schema.imports.c.person_id).where(schema.imports.c.import_id == import_id).scalar_subquery()
    table = schema.doses  # by person first: that is the order in which doses lie
    chosen = select(table).where(table.c.person_id == person, table.c.import_id == import_id)
    return input_tables.fetch(connection, chosen, input_tables.DOSES.schema)


def _explained(connection: Connection, import_id: int) -> pl.DataFrame:
    """Stored doses of the import about whose amount the family has answered."""
    table = schema.questions
    chosen = select(table.c.about).where(
        table.c.import_id == import_id, table.c.answer.is_not(None), table.c.kind.not_in((MAYBE_TWICE, WHICH_AMOUNT))
    )
    told = [about for row in connection.execute(chosen) if _is_of_a_dose(about := json.loads(row.about))]
    keys = [(_minute(about), about["source"], about["ordinal"]) for about in told]
    named = pl.DataFrame(keys, schema={name: input_tables.DOSES.schema[name] for name in KEY}, orient="row")
    return _own(connection, import_id).join(named, on=KEY, how="semi")


def _is_of_a_dose(about: dict[str, Any]) -> bool:
    return "taken_at_utc" in about and "ordinal" in about


def _minute(about: dict[str, Any]) -> int:
    return stored(datetime.fromisoformat(about["taken_at_utc"])) // MICROSECONDS_IN_A_MINUTE


def _take_out(connection: Connection, import_id: int, dose: dict[str, Any]) -> None:
    """The dose goes; where the import had corrected another file's dose, that one stands again."""
    made = schema.corrections
    mine = select(made).where(made.c.import_id == import_id, made.c.table == input_tables.DOSES.name)
    key = {name: dose[name] for name in KEY}
    corrected = [row for row in connection.execute(mine.order_by(made.c.correction_id.desc())).all()
                 if json.loads(row.identity) == key]  # fmt: skip
    for row in corrected:
        put_back(connection, row)
        connection.execute(delete(made).where(made.c.correction_id == row.correction_id))
    if not corrected:
        table = schema.doses
        named = [table.c[name] == value for name, value in key.items()]
        connection.execute(delete(table).where(table.c.person_id == dose["person_id"], *named))


def _forget_questions(connection: Connection, import_id: int, dose: dict[str, Any]) -> None:
    table = schema.questions
    for row in connection.execute(select(table).where(table.c.import_id == import_id, table.c.answer.is_(None))).all():
        about = json.loads(row.about)
        if _is_of_a_dose(about) and (_minute(about), about["source"], about["ordinal"]) == tuple(dose[n] for n in KEY):
            connection.execute(delete(table).where(table.c.question_id == row.question_id))
