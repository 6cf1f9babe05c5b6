"""What a night showed: its factors and predictions, as they were shown then. Never changed later."""

from datetime import datetime
from typing import Final

import polars as pl
from sqlalchemy import Connection, Table, func, select

from gramrise.domain import frames
from gramrise.domain.findings import Findings
from gramrise.store.instants import instant, stored
from gramrise.store.schema import shown_factors, shown_predictions
from gramrise.store.upsert import insert_into


def keep_as_shown(connection: Connection, person_id: str, found: Findings) -> None:
    """Keeps what a night shows: its factors, and each prediction the first time it is shown. Never changed later."""
    told = {"person_id": person_id, "shown_at": stored(found.as_of_utc), "model_version": found.model_version}
    columns = ("first_dose_utc", "minutes_after", "predicted_mg_dl", "p05_mg_dl", "p95_mg_dl")
    predicted = _not_yet_shown(connection, person_id, found.predictions).select(columns)
    _insert_new(connection, shown_predictions, [told | _stored_row(row) for row in predicted.to_dicts()])
    names = [column.name for column in shown_factors.columns if column.name not in told]
    _insert_new(connection, shown_factors, [told | row for row in found.factors.select(names).to_dicts()])


def _not_yet_shown(connection: Connection, person_id: str, predictions: pl.DataFrame) -> pl.DataFrame:
    """Predictions that no night has shown yet."""
    table = shown_predictions.c
    known = select(table.first_dose_utc, table.minutes_after).where(table.person_id == person_id)
    shown_before = {(first, minutes) for first, minutes in connection.execute(known)}
    keys = zip(
        predictions["first_dose_utc"].dt.epoch("us").to_list(), predictions["minutes_after"].to_list(), strict=True
    )
    return predictions.filter(pl.Series([key not in shown_before for key in keys], dtype=pl.Boolean))


def _stored_row(row: dict[str, object]) -> dict[str, object]:
    return {name: stored(value) if isinstance(value, datetime) else value for name, value in row.items()}


def _insert_new(connection: Connection, table: Table, rows: list[dict[str, object]]) -> None:
    rows = [row for row in rows if None not in row.values()]
    if rows:
        connection.execute(insert_into(connection, table).on_conflict_do_nothing(), rows)


def shown(connection: Connection, person_id: str) -> tuple[pl.DataFrame, pl.DataFrame]:
    """What was shown on past nights: (factors, predictions), oldest first, instants datetime[us, UTC]."""
    made = []
    for table in (shown_factors, shown_predictions):
        chosen = select(table).where(table.c.person_id == person_id).order_by(table.c.shown_at, *table.primary_key)
        rows = [dict(row._mapping) for row in connection.execute(chosen)]
        times = [name for name in ("shown_at", "first_dose_utc") if name in table.c]
        frame = pl.DataFrame(rows, schema={c.name: _TYPES[c.type.__class__.__name__] for c in table.columns})
        made.append(frame.with_columns(pl.col(times).cast(frames.UTC)))
    return made[0], made[1]


_TYPES: Final = {"Text": pl.String(), "BigInteger": pl.Int64(), "Integer": pl.Int32(), "Float": pl.Float64()}


def shown_by(connection: Connection, person_id: str, at_utc: datetime) -> Findings | None:
    """What the latest night up to an instant showed, its factors only; None when there was none.

    Columns that were not kept are null.
    """
    mine = (shown_factors.c.person_id == person_id, shown_factors.c.shown_at <= stored(at_utc))
    latest = connection.execute(select(func.max(shown_factors.c.shown_at)).where(*mine)).scalar_one_or_none()
    if latest is None:
        return None
    then = (shown_factors.c.person_id == person_id, shown_factors.c.shown_at == latest)
    rows_then = select(shown_factors).where(*then).order_by(shown_factors.c.band)
    rows = [dict(row._mapping) for row in connection.execute(rows_then)]
    shown_then = instant(latest)
    told = [{**row, "as_of_utc": shown_then} for row in rows]
    factors = pl.DataFrame(
        [{name: row.get(name) for name in frames.FACTORS.schema} for row in told], schema=frames.FACTORS.schema
    )
    return Findings(shown_then, factors=frames.FACTORS.check(factors), model_version=rows[0]["model_version"])
