"""Which rows a file stated as they were known already: they stay when the file that brought them is taken back."""

from io import BytesIO

import polars as pl
from sqlalchemy import Connection, delete, func, insert, select, update

from gramrise.store.input_tables import InputTable
from gramrise.store.schema import also_stated


def remember(connection: Connection, kind: InputTable, person_id: str, import_id: int, rows: pl.DataFrame) -> None:
    """Keeps the identities of stored-form rows that the import states and did not bring."""
    if rows.height == 0:
        return
    mine = (also_stated.c.person_id == person_id, also_stated.c.import_id == import_id)
    of_kind = (*mine, also_stated.c.table == kind.name)
    last = connection.execute(select(func.max(also_stated.c.part)).where(*of_kind)).scalar_one_or_none() or 0
    connection.execute(
        insert(also_stated).values(
            person_id=person_id, import_id=import_id, table=kind.name, part=last + 1, rows=_packed(kind, rows)
        )
    )


def hand_over(connection: Connection, kind: InputTable, person_id: str, import_id: int) -> set[int]:
    """Rows of an import that other imports state, too, are the earliest such import's now; which got any."""
    heirs: set[int] = set()
    chosen = select(also_stated).where(
        also_stated.c.person_id == person_id, also_stated.c.table == kind.name, also_stated.c.import_id != import_id
    )
    key = list(kind.identity)
    table = kind.table
    owned = select(*(table.c[name] for name in key)).where(
        table.c.person_id == person_id, table.c.import_id == import_id
    )
    rows = connection.execute(owned).all()
    mine = pl.DataFrame([tuple(row) for row in rows], schema={name: kind.schema[name] for name in key}, orient="row")
    for stated in connection.execute(chosen.order_by(also_stated.c.import_id, also_stated.c.part)).all():
        if mine.height == 0:
            break
        theirs = mine.join(_unpacked(kind, stated.rows), on=key, how="semi")
        if theirs.height:
            heirs.add(stated.import_id)
        for row in theirs.to_dicts():
            named = [table.c[name] == value for name, value in row.items()]
            connection.execute(
                update(table).where(table.c.person_id == person_id, *named).values(import_id=stated.import_id)
            )
        mine = mine.join(theirs, on=key, how="anti")
    return heirs


def forget(connection: Connection, person_id: str, import_id: int) -> None:
    """The import is taken back: what it stated counts no longer."""
    mine = (also_stated.c.person_id == person_id, also_stated.c.import_id == import_id)
    connection.execute(delete(also_stated).where(*mine))


def states(connection: Connection, kind: InputTable, person_id: str, import_id: int) -> pl.DataFrame:
    """The identities that an import states and did not bring."""
    mine = (also_stated.c.person_id == person_id, also_stated.c.import_id == import_id)
    chosen = select(also_stated.c.rows).where(*mine, also_stated.c.table == kind.name)
    chosen = chosen.order_by(also_stated.c.part)
    none = pl.DataFrame(schema={name: kind.schema[name] for name in kind.identity})
    return pl.concat([none, *(_unpacked(kind, row.rows) for row in connection.execute(chosen))])


def _packed(kind: InputTable, rows: pl.DataFrame) -> bytes:
    """Instants as steps, which are nearly all alike: a week of readings takes some hundred bytes."""
    held = BytesIO()
    _steps(kind, rows.select(kind.identity).sort(kind.identity), pack=True).write_ipc(held, compression="zstd")
    return held.getvalue()


def _unpacked(kind: InputTable, content: bytes) -> pl.DataFrame:
    return _steps(kind, pl.read_ipc(BytesIO(content)), pack=False)


def _steps(kind: InputTable, rows: pl.DataFrame, *, pack: bool) -> pl.DataFrame:
    at = pl.col(kind.at)
    if not kind.schema[kind.at].is_integer():
        return rows
    return rows.with_columns(at.diff().fill_null(at) if pack else at.cum_sum())
