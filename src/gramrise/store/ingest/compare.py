"""Taking in a batch: what is new, what corrects, what is known already, and what contradicts itself."""

import json
from dataclasses import dataclass

import polars as pl
from sqlalchemy import Connection, select

from gramrise.store.input_tables import ROUNDING_MG_DL, InputTable, fetch


@dataclass(frozen=True, slots=True)
class Compared:
    """Rows of one table of a batch, sorted out against what is stored. All frames are stored frames.

    added      identities not seen before
    corrected  identities whose stated values changed, with the row as it stood in `before` (same order)
    refreshed  known values whose derived or descriptive columns are better told now
    conflicts  rows of the batch that state another value for an identity the batch states again later
    kept       for each conflict the row that was kept
    equal      how many known rows the batch states as they are known
    """

    added: pl.DataFrame
    corrected: pl.DataFrame
    before: pl.DataFrame
    refreshed: pl.DataFrame
    conflicts: pl.DataFrame
    kept: pl.DataFrame
    already_known: int
    equal: int
    of_others: pl.DataFrame  # identities of known rows that another import brought

    @property
    def changed(self) -> pl.DataFrame:
        return pl.concat([self.added, self.corrected, self.refreshed])


def compare(connection: Connection, kind: InputTable, rows: pl.DataFrame) -> Compared:
    """Sorts out the stored-form rows of one person. The last of several statements about one identity is kept."""
    key = list(kind.identity)
    stated = list(kind.stated)
    once = rows.unique(subset=[*key, *stated], keep="last", maintain_order=True)
    last = once.unique(subset=key, keep="last", maintain_order=True)
    conflicts = kept = once.clear()
    if last.height < once.height:
        conflicts = once.join(last, on=[*key, *stated], how="anti", nulls_equal=True, maintain_order="left")
        kept = conflicts.select(key).join(last, on=key, how="left", maintain_order="left").select(rows.columns)
    known = _known(connection, kind, last)
    if known.height == 0:
        none = last.clear()
        return Compared(last, none, none, none, conflicts, kept, rows.height - once.height, 0, none.select(key))
    joined = last.join(known, on=key, how="left", suffix="_known", maintain_order="left")
    is_known = pl.col("person_id_known").is_not_null()
    same = pl.all_horizontal(_same(name) for name in stated)
    others = [name for name in rows.columns if name not in (*key, "person_id", "import_id", "origin")]
    better = pl.any_horizontal(_better(name) for name in others)
    split = joined.select(
        new=~is_known, corrected=is_known & ~same, refreshed=is_known & same & better, known=is_known & same
    )
    before = joined.filter(split["corrected"]).select(
        pl.col(name if name in key else f"{name}_known").alias(name) for name in rows.columns
    )
    equal = int(split["known"].sum())
    return Compared(
        added=last.filter(split["new"]),
        corrected=last.filter(split["corrected"]),
        before=before,
        refreshed=_refreshed(joined.filter(split["refreshed"]), rows.columns, key),
        conflicts=conflicts,
        kept=kept,
        already_known=equal + rows.height - once.height,
        equal=equal,
        of_others=joined.filter(split["known"] & joined["import_id"].ne_missing(joined["import_id_known"])).select(key),
    )


def _known(connection: Connection, kind: InputTable, rows: pl.DataFrame) -> pl.DataFrame:
    """What is stored for the person of these rows between the first and the last of them."""
    if rows.height == 0:
        return pl.DataFrame(schema=kind.schema)
    column = kind.table.c[kind.at]
    span = rows.select(first=pl.col(kind.at).min(), last=pl.col(kind.at).max()).row(0)
    chosen = select(kind.table).where(kind.table.c.person_id == rows["person_id"][0], column.between(*span))
    return fetch(connection, chosen.order_by(*kind.table.primary_key), kind.schema)


def _same(name: str) -> pl.Expr:
    exactly = pl.col(name).eq_missing(pl.col(f"{name}_known"))
    if name != "glucose_mg_dl":
        return exactly
    return exactly | (_one_is_whole() & ((pl.col(name) - pl.col(f"{name}_known")).abs() <= ROUNDING_MG_DL))


def _one_is_whole() -> pl.Expr:
    """One of the two is in whole mg/dL, the other came from mmol/L with one decimal."""
    return _whole(pl.col("glucose_mg_dl")) != _whole(pl.col("glucose_mg_dl_known"))


def _whole(value: pl.Expr) -> pl.Expr:
    return value == value.round(0)


def _better(name: str) -> pl.Expr:
    """Whether a later import tells this column better: a value for none, whole mg/dL for converted ones."""
    told, known = pl.col(name), pl.col(f"{name}_known")
    if name == "glucose_mg_dl":
        return _one_is_whole() & _whole(told)
    if name == "offset_minutes":
        return told.is_not_null() & known.is_null()
    if name == "noticed":
        return (told != "") & (told != known)
    return told.ne_missing(known)


def _refreshed(joined: pl.DataFrame, columns: list[str], key: list[str]) -> pl.DataFrame:
    """The better-told rows; they keep the import and the origin that brought them first."""
    told: list[pl.Expr] = []
    for name in columns:
        if name in (*key, "person_id"):
            told.append(pl.col(name))
        elif name in {"import_id", "origin"}:
            told.append(pl.col(f"{name}_known").alias(name))
        else:
            told.append(pl.when(_better(name)).then(pl.col(name)).otherwise(pl.col(f"{name}_known")).alias(name))
    return joined.select(told)


def as_documents(rows: pl.DataFrame, names: tuple[str, ...]) -> list[str]:
    """Each row's named columns as one JSON text, keys in the order given."""
    return [json.dumps(row, ensure_ascii=False) for row in rows.select(names).to_dicts()]
