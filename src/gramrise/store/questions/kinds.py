"""Kinds of questions the store asks, the answers it offers, and from when on an answer changes the inputs."""

from datetime import datetime
from typing import Final

from gramrise.store.instants import stored
from gramrise.store.questions.stored_questions import StoredQuestion

MAYBE_TWICE: Final = "maybe_twice"
SAME: Final = "same"
APART: Final = "apart"
PIECES_OR_GRAMS: Final = "pieces_or_grams"
WHOSE_FILE: Final = "whose_file"


def touches_from(each: StoredQuestion, beginning: int) -> int:
    """The earliest stored instant an answer changes."""
    taken = each.question.about.get("taken_at_utc")
    return stored(datetime.fromisoformat(str(taken))) if taken else beginning
