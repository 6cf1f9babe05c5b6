"""The import of one batch as one transaction: ledger, rows, corrections, conflicts, quarantine, questions, changes."""

import json
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import polars as pl
from sqlalchemy import Connection, delete, insert, select, update

from gramrise.domain.batch import Batch, ImportSummary, Question
from gramrise.domain.person import Person
from gramrise.store import input_tables, schema
from gramrise.store.ingest import (
    also_stated,
    apart_in_doubt,
    doubled_doses,
    file_owner,
    other_logs,
    restated,
    source_records,
)
from gramrise.store.ingest.between import between_known
from gramrise.store.ingest.compare import Compared, as_documents, compare
from gramrise.store.ingest.overlap import Overlap
from gramrise.store.input_tables import INPUT_TABLES, InputTable
from gramrise.store.instants import MICROSECONDS_IN_A_MINUTE, earliest_of_day, stored
from gramrise.store.persons import known_person, mark_changed
from gramrise.store.questions import stored_questions
from gramrise.store.upsert import insert_into


def take_in(
    connection: Connection, batch: Batch, now_utc: datetime, retry: bool, overlap: Overlap, apart: bool = False
) -> ImportSummary:
    """Puts one batch away. The caller's transaction makes it all or nothing.

    retry   look again at a file known by its bytes (layouts or sources were mended): its quarantine is replaced, and
            its own doses give way to what it states now
    overlap the file's readings beside those known, counted on
    apart   its amounts are others than those near them: whoever logged them has said so
    """
    known = connection.execute(
        select(schema.imports).where(
            schema.imports.c.person_id == batch.person_id, schema.imports.c.content_hash == batch.content_hash
        )
    ).first()
    if known is not None and not retry:
        waiting = known.quarantined
        return ImportSummary(batch.file, known.layout, 0, 0, 0, 0, 0, 0, known_file=True, set_aside_then=waiting)
    batch = apart_in_doubt.told_apart(connection, batch)
    zone = known_person(connection, batch.person_id).zone_now()
    own_import = None if known is None else int(known.import_id)
    batch, contradicting = other_logs.beside_known(connection, batch, zone, own_import)
    import_id = _enter(connection, batch, now_utc) if own_import is None else own_import
    changed_from: list[int] = []
    batch, older = source_records.settled(connection, batch, import_id, now_utc, changed_from, overlap)
    counts = dict.fromkeys(("added", "corrected", "already_known", "conflicts", "questions"), 0)
    counts["already_known"] = older
    stated_now = pl.DataFrame(schema=input_tables.DOSES.schema)
    for kind in INPUT_TABLES:
        offered: pl.DataFrame = getattr(batch, kind.name)
        if offered.height == 0:
            kind.contract.check(offered)
            continue
        frame = input_tables.as_stored(kind, offered, import_id)
        if kind is input_tables.DOSES and known is not None:
            stated_now = frame = restated.without_explained(connection, import_id, frame)
        doubts = [] if apart else _doubts(connection, kind, frame, batch)
        counts["questions"] += stored_questions.ask(connection, doubts, now_utc, "import", import_id)
        overlap.add_owners(doubts)
        compared = compare(connection, kind, frame)
        input_tables.write(connection, kind.table, kind.identity, compared.changed)
        _remember(connection, kind, compared, batch.person_id, now_utc, import_id)
        also_stated.remember(connection, kind, batch.person_id, import_id, compared.of_others)
        counts["added"] += compared.added.height
        counts["corrected"] += compared.corrected.height
        counts["already_known"] += compared.already_known
        counts["conflicts"] += compared.conflicts.height
        first = _earliest(kind, compared.changed)
        if kind is input_tables.READINGS:
            overlap.add(compared, import_id)
            overlap.add_between(between_known(connection, compared.added, batch.person_id, import_id))
        changed_from += first
    if not apart:
        counts["questions"] += stored_questions.ask(connection, contradicting, now_utc, "import", import_id)
    if known is not None:
        changed_from += restated.drop_not_restated(connection, import_id, stated_now)
    _quarantine(connection, batch, import_id)
    counts["questions"] += stored_questions.ask(connection, batch.questions, now_utc, "import", import_id)
    counts["quarantined"] = len(batch.quarantine)
    if changed_from:
        mark_changed(connection, batch.person_id, min(changed_from))
    _count(connection, import_id, batch, counts)
    passed_over = batch.rows_passed_over
    summary = ImportSummary(
        batch.file, batch.layout, known_file=False, dry_run=False, passed_over=passed_over, **counts
    )
    return summary if known is not None else replace(summary, import_id=import_id)


def _doubts(connection: Connection, kind: InputTable, frame: pl.DataFrame, batch: Batch) -> list[Question]:
    """What the rows of a file raise beside those stored before: another person's readings, glucose written twice."""
    if kind is input_tables.READINGS:
        return file_owner.questions_for(connection, frame, batch.person_id, batch.file)
    return (
        _maybe_twice(connection, known_person(connection, batch.person_id), frame) if kind is input_tables.DOSES else []
    )


def _enter(connection: Connection, batch: Batch, now_utc: datetime) -> int:
    zero = dict.fromkeys(("added", "corrected", "already_known", "conflicts", "quarantined", "questions"), 0)
    entered = connection.execute(
        insert(schema.imports).values(
            person_id=batch.person_id,
            file=batch.file,
            content_hash=batch.content_hash,
            layout=batch.layout,
            taken_in_at=stored(now_utc),
            rows_offered=batch.rows_offered,
            rows_repeated=batch.rows_repeated,
            rows_passed_over=batch.rows_passed_over,
            remarks=json.dumps(batch.remarks, ensure_ascii=False),
            **zero,
        )
    )
    key = entered.inserted_primary_key
    assert key is not None
    return int(key[0])


def _count(connection: Connection, import_id: int, batch: Batch, counts: dict[str, int]) -> None:
    table = schema.imports
    summed = {name: table.c[name] + n for name, n in counts.items() if name != "quarantined"}
    values: dict[str, Any] = {**summed, "quarantined": counts["quarantined"], "layout": batch.layout}
    connection.execute(update(table).where(table.c.import_id == import_id).values(**values))


def _maybe_twice(connection: Connection, person: Person, frame: pl.DataFrame) -> list[Question]:
    """Questions about new doses that have an equal one near them from another import."""
    table = schema.doses
    reach = (doubled_doses.WITHIN_MINUTES + 1) * MICROSECONDS_IN_A_MINUTE
    span = frame.select(low=pl.col("taken_at_utc").min() - reach, high=pl.col("taken_at_utc").max() + reach).row(0)
    near = select(table).where(table.c.person_id == person.person_id, table.c.taken_at_utc.between(*span))
    near = near.order_by(*table.primary_key)
    standing = input_tables.fetch(connection, near, input_tables.DOSES.schema)
    new = frame.join(standing, on=list(input_tables.DOSES.identity), how="anti")
    others = standing.join(frame.select("import_id").unique(), on="import_id", how="anti")  # null: entered by hand
    return doubled_doses.questions_for(new, frame, others, person.zone_now())


def _remember(
    connection: Connection, kind: InputTable, compared: Compared, person_id: str, now_utc: datetime, import_id: int
) -> None:
    """Keeps old values of corrected rows, and both values of contradicting ones."""
    told = {"person_id": person_id, "table": kind.name, "import_id": import_id}
    if compared.corrected.height:
        columns = {
            "identity": as_documents(compared.corrected, kind.identity),
            "before": as_documents(compared.before, _kept(kind)),
            "after": as_documents(compared.corrected, kind.stated),
            "before_import_id": compared.before["import_id"].to_list(),
        }
        made = [told | dict(zip(columns, v, strict=True)) for v in zip(*columns.values(), strict=True)]
        at = {"corrected_at": stored(now_utc)}
        connection.execute(insert(schema.corrections), [row | at for row in made])
    if compared.conflicts.height:
        columns = {
            "identity": as_documents(compared.conflicts, kind.identity),
            "kept": as_documents(compared.kept, kind.stated),
            "other": as_documents(compared.conflicts, kind.stated),
        }
        made = [told | dict(zip(columns, v, strict=True)) for v in zip(*columns.values(), strict=True)]
        connection.execute(insert_into(connection, schema.conflicts).on_conflict_do_nothing(), made)


def _kept(kind: InputTable) -> tuple[str, ...]:
    """What is put back when a correction is undone: the grams, too, which of grams nobody can find again."""
    return (*kind.stated, "grams") if kind is input_tables.DOSES and "grams" not in kind.stated else kind.stated


def _earliest(kind: InputTable, changed: pl.DataFrame) -> list[int]:
    """The first instant these rows touch; a weighing touches its local day, wherever that begins."""
    if changed.height == 0:
        return []
    first = changed[kind.at].min()
    if kind.at == "on":
        return [earliest_of_day(date.fromisoformat(str(first)))]
    return [int(str(first)) * (MICROSECONDS_IN_A_MINUTE if kind.at == "minute" else 1)]


def _quarantine(connection: Connection, batch: Batch, import_id: int) -> None:
    connection.execute(delete(schema.quarantine).where(schema.quarantine.c.import_id == import_id))
    made = [
        {
            "person_id": batch.person_id,
            "import_id": import_id,
            "code": held.trouble.code,
            "file": held.trouble.file,
            "row": held.trouble.row,
            "column": held.trouble.column,
            "found": held.trouble.found,
            "what": held.trouble.what,
            "mend": held.trouble.mend,
            "text": held.text,
        }
        for held in batch.quarantine
    ]
    if made:
        connection.execute(insert(schema.quarantine), made)
