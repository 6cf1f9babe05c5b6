"""Counts that contradict the log, as the family's answers correct them. Loads no frames: every look-up passes here."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from gramrise.domain.counts import ContainerCount
from gramrise.store.questions.stored_questions import StoredQuestion

CONTRADICTS: Final = "count_contradicts_log"
MISCOUNTED: Final = "miscounted"
# "log_right" was offered before the two were told apart; what is left stands, as after a refill.
REFILLED: Final = ("refilled", "log_right")


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
