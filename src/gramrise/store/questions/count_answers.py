"""Answered questions of the place room: what the family says of tins and of lows with nothing logged.

An answer "taken:3@2026-03-02T10:40:00+00:00,2@..." about pieces that are gone logs those pieces, with the origin
`count`. "glucose" about a low logs glucose of an unknown amount, with the origin `answer`: its low counts as treated,
and nothing is learned from it. Answers about a count that contradicts the log: `count_corrections`. All others change
nothing: the pieces are gone and not this child's, or nobody knows.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import Final

import polars as pl

from gramrise.domain.frames import DOSES
from gramrise.store.questions.kinds import GONE, TAKEN
from gramrise.store.questions.stored_questions import StoredQuestion

LOOKS_TREATED: Final = "looks_treated"
GLUCOSE: Final = "glucose"


def with_counted(doses: pl.DataFrame, asked: Iterable[StoredQuestion]) -> pl.DataFrame:
    """DOSES with those that the family told of in answer; their times are doubtful, and marked so."""
    known = tuple(asked)
    rows = [row for each in known if each.question.kind == GONE for row in _pieces(each)]
    rows += [
        _of_unknown_amount(each) for each in known if each.question.kind == LOOKS_TREATED and each.answer == GLUCOSE
    ]
    if not rows:
        return doses
    told = pl.DataFrame(rows, schema=DOSES.schema)
    numbered = pl.int_range(1, pl.len() + 1, dtype=pl.Int32).over("taken_at_utc", "source")
    return DOSES.check(pl.concat([doses, told]).with_columns(ordinal=numbered))


def _pieces(each: StoredQuestion) -> Iterable[dict[str, object]]:
    word, _, told = (each.answer or "").partition(":")
    if word != TAKEN:
        return
    about = each.question.about
    for one in told.split(","):
        pieces, _, at = one.partition("@")
        yield _row(each, at) | {
            "source": str(about["source"]),
            "form": str(about["form"]),
            "amount": float(pieces),
            "amount_unit": "piece",
            "grams": float(pieces) * float(str(about["grams_per_piece"])),
            "origin": "count",
        }


def _of_unknown_amount(each: StoredQuestion) -> dict[str, object]:
    return _row(each, str(each.question.about["taken_at_utc"])) | {
        "source": "",
        "form": "unknown",
        "amount": None,
        "amount_unit": "",
        "grams": None,
        "origin": "answer",
    }


def _row(each: StoredQuestion, at: str) -> dict[str, object]:
    return {
        "person_id": each.question.person_id,
        "taken_at_utc": datetime.fromisoformat(at),
        "ordinal": 1,
        "may_be_weaker": False,
        "remarks": ["time_doubtful"],
        "noticed": "",
    }
