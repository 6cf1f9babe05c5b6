"""Questions waiting, as the report shows them: in the person's language, and never naming another person."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Final

from gramrise.domain.batch import Question
from gramrise.report.weekly.numbers.view import QuestionView
from gramrise.report.words import Words, table

# What of a question's `about` may be shown. The name of another person is not among it.
SHOWN: Final = frozenset(
    {"taken_at_utc", "text", "amount", "file", "source", "equal", "ratio", "on", "kg", "first", "second"}
)
# Our choice: as much of a log's own text as fits a line of page 1.
MOST_LETTERS: Final = 60


def question_views(questions: Sequence[Question]) -> tuple[QuestionView, ...]:
    """Questions in their order; the sentence is kept only where the kind has no words of its own."""
    return tuple(
        QuestionView(
            kind=question.kind,
            sentence="" if f"question.{question.kind}" in table("en") else question.sentence,
            about={key: value for key, value in question.about.items() if key in SHOWN},
        )
        for question in questions
    )


def question_sentence(question: QuestionView, words: Words) -> str:
    if question.sentence:
        return question.sentence
    about = question.about
    values = {
        "at": _instant(about.get("taken_at_utc"), words),
        "text": str(about.get("text", ""))[:MOST_LETTERS],
        "amount": _number(about.get("amount"), words),
        "log": str(about.get("file") or about.get("source") or words.say("question.a_log")),
        "equal": _number(about.get("equal"), words),
        "ratio": _number(about.get("ratio"), words),
        "on": _date(about.get("on"), words),
        "kg": _number(about.get("kg"), words),
        "first": _amount(about.get("first"), words),
        "second": _amount(about.get("second"), words),
    }
    return words.say(f"question.{question.kind}", **values)


def _instant(told: object, words: Words) -> str:
    return words.when(datetime.fromisoformat(told)) if isinstance(told, str) else ""


def _date(told: object, words: Words) -> str:
    return words.day(date.fromisoformat(told), "medium") if isinstance(told, str) else ""


def _amount(told: object, words: Words) -> str:
    """'4 pieces' of what a question says of one log's amount."""
    if not isinstance(told, dict):
        return ""
    number, unit = _number(told["amount"], words), str(told["unit"])
    return words.say("question.amount_piece", amount=number) if unit == "piece" else f"{number} {unit}".rstrip()


def _number(told: object, words: Words) -> str:
    return words.grams(told) if isinstance(told, int | float) else words.say("strips.unknown_grams")
