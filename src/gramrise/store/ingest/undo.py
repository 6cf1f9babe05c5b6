"""Undoing an import: the file was another person's, or of the wrong kind, or the amount a slip.

What another import states, too, stays, and is that import's from then on. What a later import corrected stays as
corrected; where that one is undone as well, nothing of either is left.
"""

import json
from datetime import datetime
from typing import Any

import polars as pl
from sqlalchemy import Connection, Row, delete, select, update

from gramrise.domain.problems import WrongUse
from gramrise.store import persons, schema
from gramrise.store.ingest import also_stated
from gramrise.store.ingest.corrections import put_back
from gramrise.store.input_tables import INPUT_TABLES, InputTable
from gramrise.store.instants import stored
from gramrise.store.questions.kinds import MAYBE_TWICE, WHICH_AMOUNT


def take_back(connection: Connection, import_id: int, with_answers: bool = False) -> set[int]:
    """Rows the import added go, rows it corrected get their old values, its open questions and ledger entry go.

    with_answers  its answered questions go, too: what was typed once is asked about again when it is typed again
    returns       the imports that state some of its rows, too: those stay
    raises WrongUse for an import there is not
    """
    imports = schema.imports
    entry = connection.execute(select(imports).where(imports.c.import_id == import_id)).first()
    if entry is None:
        raise WrongUse(f"there is no import {import_id}", "look at the ledger of imports")
    heirs: set[int] = set()
    for kind in INPUT_TABLES:
        heirs |= _Undoing(connection, kind, entry.person_id, import_id).undo()
    also_stated.forget(connection, entry.person_id, import_id)
    asked = schema.questions
    gone = asked.c.import_id == import_id
    connection.execute(delete(asked).where(gone if with_answers else gone & asked.c.answer.is_(None)))
    _forget_doubles(connection, entry.person_id)
    # What was answered is not asked again when the file comes again; no later import may be taken for this one.
    connection.execute(update(asked).where(asked.c.import_id == import_id).values(import_id=None))
    for table in (schema.source_records, schema.conflicts, schema.quarantine, imports):
        connection.execute(delete(table).where(table.c.import_id == import_id))
    persons.mark_changed(connection, entry.person_id, 0)
    return heirs


def _forget_doubles(connection: Connection, person_id: str) -> None:
    """A dose of another file is no longer maybe written twice where the one it equals has gone."""
    asked, doses = schema.questions, schema.doses
    mine = (asked.c.person_id == person_id, asked.c.kind.in_((MAYBE_TWICE, WHICH_AMOUNT)))
    for row in connection.execute(select(asked.c.question_id, asked.c.key, asked.c.about).where(*mine)).all():
        at, _, source = row.key.partition(" / ")[2].partition(" ")
        if not at:
            continue
        about = json.loads(row.about)
        of_it = about["ordinal"] if (about["taken_at_utc"], about["source"]) == (at, source) else None
        named = (doses.c.taken_at_utc == stored(datetime.fromisoformat(at)), doses.c.source == source,
                 doses.c.ordinal != (0 if of_it is None else of_it))  # fmt: skip
        if connection.execute(select(doses.c.minute).where(doses.c.person_id == person_id, *named)).first() is None:
            connection.execute(delete(asked).where(asked.c.question_id == row.question_id))


class _Undoing:
    """The rows of one table that an import brought or corrected."""

    def __init__(self, connection: Connection, kind: InputTable, person_id: str, import_id: int) -> None:
        self.connection, self.kind, self.person_id, self.import_id = connection, kind, person_id, import_id
        self.others = self._others()

    def undo(self) -> set[int]:
        """Returns the imports whose rows some of them are now."""
        mine = self._corrections(schema.corrections.c.import_id == self.import_id)
        made = schema.corrections
        by_another = (made.c.before_import_id == self.import_id) & (made.c.import_id != self.import_id)
        over = self._corrections(by_another)
        corrected_later = {row.identity: row for row in reversed(over)}  # the first of them that came after
        for row in reversed(mine):
            self._undo_correction(row, corrected_later.pop(row.identity, None))
        for row in corrected_later.values():
            self._forget_before(row)
        heirs = also_stated.hand_over(self.connection, self.kind, self.person_id, self.import_id)
        table = self.kind.table
        of_mine = (table.c.person_id == self.person_id, table.c.import_id == self.import_id)
        self.connection.execute(delete(table).where(*of_mine))
        return heirs

    def _undo_correction(self, row: Row[Any], later: Row[Any] | None) -> None:
        """The value of before stands again; where a later import corrected it since, that one corrects it now."""
        made = schema.corrections
        other = self._also_by(row.identity, self.import_id, None if later is None else later.import_id)
        mine = made.c.correction_id == row.correction_id
        if other is not None:
            self.connection.execute(update(made).where(mine).values(import_id=other))
            self._now_of(row.identity, other)
            if later is not None:
                self._before_of(later, before_import_id=other)
            return
        if later is not None:
            self._before_of(later, before=row.before, before_import_id=row.before_import_id)
        else:
            put_back(self.connection, row)
        self.connection.execute(delete(made).where(mine))

    def _forget_before(self, later: Row[Any]) -> None:
        """A later import corrected a row of this one: it brought the row now, unless a third stated it in between."""
        other = self._also_by(later.identity, self.import_id, later.import_id)
        if other is not None:
            self._before_of(later, before_import_id=other)
            return
        made = schema.corrections
        self.connection.execute(delete(made).where(made.c.correction_id == later.correction_id))

    def _before_of(self, later: Row[Any], **values: Any) -> None:
        made = schema.corrections
        self.connection.execute(update(made).where(made.c.correction_id == later.correction_id).values(**values))

    def _now_of(self, identity: str, import_id: int) -> None:
        table = self.kind.table
        named = [table.c[name] == value for name, value in json.loads(identity).items()]
        mine = (table.c.person_id == self.person_id, table.c.import_id == self.import_id)
        self.connection.execute(update(table).where(*mine, *named).values(import_id=import_id))

    def _corrections(self, which: Any) -> list[Row[Any]]:
        made = schema.corrections
        of_kind = (made.c.person_id == self.person_id, made.c.table == self.kind.name)
        return list(self.connection.execute(select(made).where(*of_kind, which).order_by(made.c.correction_id)).all())

    def _others(self) -> list[tuple[int, pl.DataFrame]]:
        """Other imports with what they state beside what they brought, oldest first."""
        table = schema.also_stated
        chosen = (
            select(table.c.import_id)
            .where(table.c.person_id == self.person_id, table.c.table == self.kind.name)
            .where(table.c.import_id != self.import_id)
            .distinct()
            .order_by(table.c.import_id)
        )
        return [
            (row.import_id, also_stated.states(self.connection, self.kind, self.person_id, row.import_id))
            for row in self.connection.execute(chosen).all()
        ]

    def _also_by(self, identity: str, after: int, before: int | None) -> int | None:
        """The first other import between two that states the row, as it stood in between."""
        told = json.loads(identity)
        named = pl.all_horizontal(pl.col(name) == value for name, value in told.items())
        between = ((other, rows) for other, rows in self.others if after < other and (before is None or other < before))
        return next((other for other, rows in between if rows.filter(named).height), None)
