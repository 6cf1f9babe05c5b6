"""Kinds of questions the store asks, the answers it offers, and from when on an answer changes the inputs."""

from datetime import datetime
from typing import Final

from gramrise.store.instants import stored
from gramrise.store.questions.stored_questions import StoredQuestion

MAYBE_TWICE: Final = "maybe_twice"
SAME: Final = "same"
LEFT_OUT_AMOUNT: Final = "left_out_amount"  # the amount for which it was answered; another one is another dose
APART: Final = "apart"
WHICH_AMOUNT: Final = "which_amount"  # two logs contradict: the one read first, the one read second, or both
FIRST: Final = "first"
SECOND: Final = "second"
PIECES_OR_GRAMS: Final = "pieces_or_grams"
WHOSE_FILE: Final = "whose_file"
REPLACED: Final = "replaced_readings"
RIGHT: Final = "right"
TAKE_BACK: Final = "take_back"
GONE: Final = "gone_from_container"
TAKEN: Final = "taken"  # "taken:3@instant,2@...": these pieces are logged


def takes_file_back(each: StoredQuestion, answer: str | None) -> list[int]:
    """The imports that an answer takes back: the file is another person's, or was not to replace what was known."""
    question = each.question
    if question.kind == REPLACED and answer == TAKE_BACK:
        ids = question.about["import_ids"]
        assert isinstance(ids, list)  # `FileTransaction.ask` wrote it
        return [int(import_id) for import_id in ids]
    if question.kind == WHOSE_FILE and answer != question.person_id and each.import_id is not None:
        return [each.import_id]
    return []


def touches_from(each: StoredQuestion, beginning: int) -> int:
    """The earliest stored instant an answer changes."""
    taken = each.question.about.get("taken_at_utc")
    return stored(datetime.fromisoformat(str(taken))) if taken else beginning
