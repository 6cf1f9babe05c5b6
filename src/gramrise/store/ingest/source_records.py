"""Records of open standards across imports: the newest version of each stands, and what its sender takes back goes."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, Final, TypeVar

import polars as pl
from sqlalchemy import Connection, delete, insert, select

from gramrise.domain.batch import Batch
from gramrise.domain.frames import SOURCE_RECORDS
from gramrise.store import input_tables, schema
from gramrise.store.ingest.corrections import TAKEN_OUT
from gramrise.store.ingest.overlap import Overlap
from gramrise.store.input_tables import INPUT_TABLES, InputTable
from gramrise.store.instants import MICROSECONDS_IN_A_MINUTE, instant, stored
from gramrise.store.upsert import insert_into

T = TypeVar("T")

_ASKED_AT_ONCE: Final = 500
_BY_NAME: Final = {kind.name: kind for kind in INPUT_TABLES}
_TIMES: Final = {
    "readings": "at_utc",
    "fingers": "at_utc",
    "doses": "taken_at_utc",
    "events": "at_utc",
    "weights": "on",
}


def settled(
    connection: Connection,
    batch: Batch,
    import_id: int,
    now_utc: datetime,
    changed_from: list[int],
    overlap: Overlap,
) -> tuple[Batch, int]:
    """The batch without older versions of records that are known newer; rows of older versions are taken out.

    Returns with it how many older versions it held.
    changed_from  the stored instants of what was taken out are added
    overlap       known records, those that were moved, and the rows taken out are counted in
    """
    told = SOURCE_RECORDS.check(batch.source_records)
    if told.height == 0:
        return batch, 0
    known = _known(connection, batch.person_id, told["record"].to_list())
    stale: list[dict[str, Any]] = []
    kept: list[dict[str, Any]] = []
    for row in map(_as_stored, told.iter_rows(named=True)):
        before = known.get(row["record"]) or _known_by_end(connection, row)
        if before is not None and _is_newer(before, row):
            stale.append(row)
            continue
        kept.append(row | {"record": before["record"] if before else row["record"], "import_id": import_id})
        if before is not None:
            stated_then, stated_now = _instants(before), _instants(row)
            if stated_then and stated_now:
                overlap.records_known += 1
                overlap.records_moved += stated_then.isdisjoint(stated_now)
            gone = _take_out(connection, before, row, batch.layout, import_id, now_utc)
            overlap.taken_out += len(gone)
            changed_from += gone
    _write(connection, kept)
    return _without(batch, stale), len(stale)


def _parts(values: Sequence[T], size: int) -> Iterator[Sequence[T]]:
    for at in range(0, len(values), size):
        yield values[at : at + size]


def _known(connection: Connection, person_id: str, names: list[str]) -> dict[str, dict[str, Any]]:
    table = schema.source_records
    found: dict[str, dict[str, Any]] = {}
    for some in _parts(names, _ASKED_AT_ONCE):
        chosen = select(table).where(table.c.person_id == person_id, table.c.record.in_(some))
        found |= {row.record: dict(row._mapping) for row in connection.execute(chosen)}
    return found


def _known_by_end(connection: Connection, row: dict[str, Any]) -> dict[str, Any] | None:
    """A withdrawal by 'Type/ID' names nobody and no server: of the one record of the person whose name ends so."""
    if not row["withdrawn"] or " " in row["record"] or "://" in row["record"]:
        return None
    table = schema.source_records
    ends = table.c.record.endswith(f" {row['record']}", autoescape=True) | table.c.record.endswith(
        f"/{row['record']}", autoescape=True
    )
    found = connection.execute(select(table).where(table.c.person_id == row["person_id"], ends).limit(2)).all()
    return dict(found[0]._mapping) if len(found) == 1 else None


def _as_stored(row: dict[str, Any]) -> dict[str, Any]:
    times = {
        name: None if row[name] is None else stored(row[name]) for name in ("first_utc", "last_utc", "updated_utc")
    }
    return row | times


def _is_newer(before: dict[str, Any], row: dict[str, Any]) -> bool:
    """Whether the known version stands against the one that is told now."""
    if before["updated_utc"] is not None and row["updated_utc"] is not None:
        return bool(before["updated_utc"] > row["updated_utc"])
    return bool(before["withdrawn"])  # taken back once, it comes again only in a version that is newer for certain


def _instants(row: dict[str, Any]) -> set[int]:
    if row["first_utc"] is None:
        return set()
    return {row["first_utc"]} | (
        set(range(row["first_utc"], row["last_utc"] + 1, row["step_us"])) if row["step_us"] else set()
    )


def _table(kind: str) -> InputTable | None:
    return None if not kind else _BY_NAME.get(kind, _BY_NAME["events"])


def _take_out(
    connection: Connection,
    before: dict[str, Any],
    row: dict[str, Any],
    layout: str,
    import_id: int,
    now_utc: datetime,
) -> list[int]:
    """Takes out the rows of an older version that the newer one does not state; they are kept as corrections.

    Only what came in by files of the same standard: a family's own log is not the sender's to take back.
    """
    kind = _table(before["kind"])
    gone = _instants(before) - (_instants(row) if before["kind"] == row["kind"] else set())
    if kind is None or not gone:
        return []
    table = kind.table
    at = table.c[_TIMES[kind.name]]
    files = select(schema.imports.c.import_id).where(
        schema.imports.c.person_id == before["person_id"], schema.imports.c.layout == layout
    )
    values = [instant(one).date().isoformat() for one in gone] if kind.name == "weights" else sorted(gone)
    changed: list[int] = []
    for some in _parts(values, _ASKED_AT_ONCE):
        where = [table.c.person_id == before["person_id"], table.c.import_id.in_(files), at.in_(some)]
        if kind.name == "events":
            where.append(table.c.kind == before["kind"])
        found = connection.execute(select(table).where(*where).order_by(*table.primary_key))
        rows = [dict(one._mapping) for one in found]
        connection.execute(delete(table).where(*where))
        _remember(connection, kind, rows, import_id, now_utc)
        changed += [_instant_of(kind, one) for one in rows]
    return changed


def _instant_of(kind: InputTable, row: dict[str, Any]) -> int:
    if kind.name == "weights":
        return stored(datetime.fromisoformat(f"{row['on']}T00:00:00+00:00")) - 24 * 60 * MICROSECONDS_IN_A_MINUTE
    return int(row[_TIMES[kind.name]])


def _remember(
    connection: Connection, kind: InputTable, rows: list[dict[str, Any]], import_id: int, now_utc: datetime
) -> None:
    made = [
        {
            "person_id": row["person_id"],
            "table": kind.name,
            "identity": json.dumps({name: row[name] for name in kind.identity}, ensure_ascii=False),
            "before": json.dumps(row, ensure_ascii=False),
            "after": TAKEN_OUT,
            "before_import_id": row["import_id"],
            "import_id": import_id,
            "corrected_at": stored(now_utc),
        }
        for row in rows
    ]
    if made:
        connection.execute(insert(schema.corrections), made)


def _write(connection: Connection, rows: list[dict[str, Any]]) -> None:
    if not rows:
        return
    table = schema.source_records
    statement = insert_into(connection, table)
    changed = {one.name: statement.excluded[one.name] for one in table.columns if not one.primary_key}
    statement = statement.on_conflict_do_update(index_elements=("person_id", "record"), set_=changed)
    for some in _parts(rows, input_tables.ROWS_AT_ONCE):
        connection.execute(statement, list(some))


def _without(batch: Batch, stale: list[dict[str, Any]]) -> Batch:
    """The batch less the rows of records that are known in a newer version."""
    frames: dict[str, Any] = {}
    for row in stale:
        kind = _table(row["kind"])
        if kind is None:
            continue
        frame = frames.get(kind.name, getattr(batch, kind.name))
        at = [instant(one) for one in sorted(_instants(row))]
        if kind.name == "weights":
            mine = pl.col("on").is_in([one.date() for one in at])
        else:
            mine = pl.col(_TIMES[kind.name]).is_in(pl.Series(at, dtype=pl.Datetime("us", "UTC")).implode())
        if kind.name == "events":
            mine &= pl.col("kind") == row["kind"]
        frames[kind.name] = frame.filter(~mine)
    return replace(batch, **frames)
