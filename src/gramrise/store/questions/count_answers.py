"""Answered questions about pieces that are gone from a container: what the family says was taken becomes a dose.

An answer "taken:3@2026-03-02T10:40:00+00:00,2@..." logs those pieces, with the origin `count`. All other answers log
nothing: the pieces are gone, and not this child's.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import Final

import polars as pl

from gramrise.domain.frames import DOSES
from gramrise.store.questions.stored_questions import StoredQuestion

GONE: Final = "gone_from_container"
TAKEN: Final = "taken"
ORIGIN: Final = "count"


def with_counted(doses: pl.DataFrame, asked: Iterable[StoredQuestion]) -> pl.DataFrame:
    """DOSES with those that the family told of in answer to a count; their times are doubtful, and marked so."""
    rows = [row for each in asked if each.question.kind == GONE for row in _doses(each)]
    if not rows:
        return doses
    told = pl.DataFrame(rows, schema=DOSES.schema)
    numbered = pl.int_range(1, pl.len() + 1, dtype=pl.Int32).over("taken_at_utc", "source")
    return DOSES.check(pl.concat([doses, told]).with_columns(ordinal=numbered))


def _doses(each: StoredQuestion) -> Iterable[dict[str, object]]:
    word, _, told = (each.answer or "").partition(":")
    if word != TAKEN:
        return
    about = each.question.about
    for one in told.split(","):
        pieces, _, at = one.partition("@")
        yield {
            "person_id": each.question.person_id,
            "taken_at_utc": datetime.fromisoformat(at),
            "source": str(about["source"]),
            "ordinal": 1,
            "form": str(about["form"]),
            "amount": float(pieces),
            "amount_unit": "piece",
            "grams": float(pieces) * float(str(about["grams_per_piece"])),
            "may_be_weaker": False,
            "remarks": ["time_doubtful"],
            "origin": ORIGIN,
            "noticed": "",
        }
