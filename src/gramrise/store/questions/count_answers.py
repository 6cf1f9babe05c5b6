"""Answered questions of the place room: what the family says of tins and of lows with nothing logged.

An answer "taken:3@2026-03-02T10:40:00+00:00,2@..." about pieces that are gone logs those pieces, with the origin
`count`. "glucose" about a low logs glucose of an unknown amount, with the origin `answer`: its low counts as treated,
and nothing is learned from it. Of a count that contradicts the log, "refilled" and "miscounted" correct the count as it
is read. All other answers change nothing: the pieces are gone and not this child's, or nobody knows.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Final

import polars as pl

from gramrise.domain.counts import ContainerCount
from gramrise.domain.frames import DOSES
from gramrise.store.questions.stored_questions import StoredQuestion

GONE: Final = "gone_from_container"
CONTRADICTS: Final = "count_contradicts_log"
LOOKS_TREATED: Final = "looks_treated"
TAKEN: Final = "taken"
GLUCOSE: Final = "glucose"
MISCOUNTED: Final = "miscounted"
# "log_right" was offered before the two were told apart; what is left stands, as after a refill.
REFILLED: Final = ("refilled", "log_right")


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


def as_answered(counts: Iterable[ContainerCount], asked: Iterable[StoredQuestion]) -> list[ContainerCount]:
    """Counts as the family corrected them: after a refill more had been put in, after a slip less is left."""
    answers = {each.question.key: each for each in asked if each.question.kind == CONTRADICTS and each.answer}
    return [_corrected(count, answers.get(key_of(count))) for count in counts]


def key_of(count: ContainerCount) -> str:
    """The key under which a count is asked about."""
    return f"{count.container}|{count.to_utc.isoformat()}"


def _corrected(count: ContainerCount, answered: StoredQuestion | None) -> ContainerCount:
    if answered is None:
        return count
    # Asked before the log's pieces were kept with the question: nothing to correct by.
    logged = round(float(str(answered.question.about.get("pieces_logged", count.pieces_gone))))
    if answered.answer in REFILLED:
        return replace(count, pieces_filled=max(count.pieces_filled, count.pieces_left + logged))
    if answered.answer == MISCOUNTED:
        left = max(0, count.pieces_filled - logged)
        return replace(count, pieces_left=left, pieces_filled=max(count.pieces_filled, left + logged))
    return count


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
