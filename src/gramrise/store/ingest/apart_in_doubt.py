"""Two entries of one minute whose amounts nobody knows are two, where their words differ: '3 or 4', then '9 or 10'.

Without an amount there is nothing by which the store could tell the second from the first: it would be taken for known,
and its words be lost.
"""

import json
from dataclasses import replace
from typing import Any

import polars as pl
from sqlalchemy import Connection, select

from gramrise.domain.batch import Batch
from gramrise.domain.questions import Question, dose_key
from gramrise.store.instants import instant, stored
from gramrise.store.schema import doses, questions

_NAMED = ("taken_at_utc", "source", "ordinal")


def told_apart(connection: Connection, batch: Batch) -> Batch:
    """The batch, whose doses of unknown amount have an ordinal of their own beside others in other words."""
    unclear = [each for each in batch.questions if "ordinal" in each.about and each.about.get("amount", 0) is None]
    if not unclear:
        return batch
    known = _known_words(connection, batch.person_id)
    clear = _clear(connection, batch)
    moved: dict[tuple[Any, ...], int] = {}
    for each in unclear:
        free = _free(each.about, known, clear)
        if free != each.about["ordinal"]:
            moved[tuple(each.about[name] for name in _NAMED)] = free
            clear.add((str(each.about["taken_at_utc"]), str(each.about["source"]), free))
    return with_ordinals(batch, moved)


def _known_words(connection: Connection, person_id: str) -> dict[tuple[str, str, int], str]:
    """By instant, source and ordinal: the words of entries of unknown amount that were asked about before."""
    chosen = select(questions.c.about).where(questions.c.person_id == person_id)
    told = [json.loads(row.about) for row in connection.execute(chosen)]
    return {
        (each["taken_at_utc"], each["source"], each["ordinal"]): each["text"]
        for each in told
        if "ordinal" in each and "text" in each and each.get("amount", 0) is None
    }


def _clear(connection: Connection, batch: Batch) -> set[tuple[str, str, int]]:
    """Doses of known amount, stored or of this batch, by instant, source and ordinal: they keep theirs."""
    offered = batch.doses.filter(pl.col("amount").is_not_null()).select(*_NAMED)
    own = {(at.isoformat(), source, ordinal) for at, source, ordinal in offered.iter_rows()}
    table, instants = doses.c, {stored(at) for at in batch.doses["taken_at_utc"].to_list()}
    chosen = select(table.taken_at_utc, table.source, table.ordinal).where(table.person_id == batch.person_id)
    rows = connection.execute(chosen.where(table.taken_at_utc.in_(instants), table.amount.is_not(None)))
    return own | {(instant(row.taken_at_utc).isoformat(), row.source, row.ordinal) for row in rows}


def _free(about: dict[str, Any], known: dict[tuple[str, str, int], str], clear: set[tuple[str, str, int]]) -> int:
    """The entry's own ordinal, where it is the first there; else the next that no entry in other words has."""
    at, source, first = str(about["taken_at_utc"]), str(about["source"]), int(about["ordinal"])
    ordinal = first
    while known.get((at, source, ordinal), about["text"]) != about["text"] or (
        ordinal != first and (at, source, ordinal) in clear
    ):
        ordinal += 1
    return ordinal


def with_ordinals(batch: Batch, moved: dict[tuple[Any, ...], int]) -> Batch:
    """The batch with other ordinals of doses, by instant (ISO 8601), source and ordinal; in its questions, too."""
    if not moved:
        return batch
    offered = batch.doses
    at = [each.isoformat() for each in offered["taken_at_utc"].to_list()]
    names = zip(at, offered["source"].to_list(), offered["ordinal"].to_list(), strict=True)
    ordinals = [moved.get(name, name[2]) for name in names]
    offered = offered.with_columns(pl.Series("ordinal", ordinals, dtype=offered.schema["ordinal"]))
    return replace(batch, doses=offered, questions=tuple(_renamed(each, moved) for each in batch.questions))


def _renamed(question: Question, moved: dict[tuple[Any, ...], int]) -> Question:
    about = question.about
    ordinal = moved.get(tuple(about.get(name) for name in _NAMED))
    if ordinal is None:
        return question
    key = dose_key(str(about["taken_at_utc"]), about["source"], ordinal)
    return replace(question, key=key, about={**about, "ordinal": ordinal})
