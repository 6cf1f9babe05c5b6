"""Questions only a person can answer: asked once, kept with their answers, by whom and when.

What answers change: `dose_answers`, `weight_answers`.
"""

import json
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select, update

from gramrise.domain.answered_grams import GRAMS_TYPED, MOST_GRAMS_TYPED, grams_typed
from gramrise.domain.problems import WrongUse
from gramrise.domain.questions import Question
from gramrise.domain.sources import AmountUnit, Source
from gramrise.store.instants import instant, instant_or_none, stored
from gramrise.store.schema import questions


@dataclass(frozen=True, slots=True)
class StoredQuestion:
    """A stored question, open while `answer` is None."""

    question_id: int
    question: Question
    asked_at_utc: datetime
    answer: str | None = None
    answered_by: str = ""
    answered_at_utc: datetime | None = None
    import_id: int | None = None  # of the file that raised it


def ask(
    connection: Connection, asked: Iterable[Question], now_utc: datetime, asked_by: str, import_id: int | None = None
) -> int:
    """Stores the questions that were never asked before. Returns how many those are."""
    new = 0
    for question in asked:
        same = (questions.c.person_id == question.person_id, questions.c.kind == question.kind)
        key = question.key
        met = connection.execute(select(questions.c.about).where(*same, questions.c.key == key)).first()
        if met is not None and _in_other_words(question, json.loads(met.about)):
            key = f"{key} {question.about['text']}"
            met = connection.execute(select(questions.c.about).where(*same, questions.c.key == key)).first()
        if met is not None:
            continue
        connection.execute(
            insert(questions).values(
                person_id=question.person_id,
                kind=question.kind,
                key=key,
                sentence=question.sentence,
                answers=json.dumps(list(question.answers), ensure_ascii=False),
                about=json.dumps(question.about, ensure_ascii=False),
                asked_at=stored(now_utc),
                asked_by=asked_by,
                import_id=import_id,
            )
        )
        new += 1
    return new


def _in_other_words(question: Question, about: dict[str, Any]) -> bool:
    """Whether a question about the same entry of a log quotes other words: the entry has changed since."""
    return "ordinal" in about and "text" in about and question.about.get("text") != about["text"]


def withdraw(connection: Connection, person_id: str, still_asked: Iterable[Question], asked_by: str) -> None:
    """Forgets the open questions of one asker that it no longer asks; answered ones stay."""
    standing = {(question.kind, question.key) for question in still_asked}
    mine = (questions.c.person_id == person_id, questions.c.asked_by == asked_by, questions.c.answer.is_(None))
    for row in connection.execute(select(questions).where(*mine)).all():
        if (row.kind, row.key) not in standing:
            connection.execute(delete(questions).where(questions.c.question_id == row.question_id))


def load(
    connection: Connection, person_id: str | None, only_open: bool, kinds: Collection[str] = ()
) -> list[StoredQuestion]:
    """Questions in the order they were asked; of one person, or of all; of some kinds, or of any."""
    chosen = select(questions).order_by(questions.c.question_id)
    if person_id is not None:
        chosen = chosen.where(questions.c.person_id == person_id)
    if only_open:
        chosen = chosen.where(questions.c.answer.is_(None))
    if kinds:
        chosen = chosen.where(questions.c.kind.in_(kinds))
    return [_asked(row) for row in connection.execute(chosen)]


def _asked(row: Row[Any]) -> StoredQuestion:
    question = Question(
        row.person_id, row.kind, row.key, row.sentence, tuple(json.loads(row.answers)), json.loads(row.about)
    )
    at = instant_or_none(row.answered_at)
    by = row.answered_by or ""
    return StoredQuestion(row.question_id, question, instant(row.asked_at), row.answer, by, at, row.import_id)


def one(connection: Connection, question_id: int) -> StoredQuestion:
    """A stored question. Raises WrongUse where there is none of that number."""
    row = connection.execute(select(questions).where(questions.c.question_id == question_id)).first()
    if row is None:
        raise WrongUse(f"there is no question {question_id}", "look at the open questions with `gramrise ask`")
    return _asked(row)


def still_offered(question: Question, stated: Collection[str]) -> tuple[str, ...]:
    """The answers that were offered, without pieces or mL of a source that is stated no more, on no day."""
    return tuple(answer for answer in question.answers if _source_of(answer) in {"", *stated})


def _source_of(answer: str) -> str:
    """NAME of 'piece:NAME' or 'mL:NAME', else ''."""
    unit, _, name = answer.partition(":")
    return name if unit in {str(AmountUnit.PIECE), str(AmountUnit.ML)} else ""


def reopen_of_lost_sources(connection: Connection, person_id: str, stated: Collection[str]) -> int:
    """Opens the answers again that name a source which is stated no more. Returns how many."""
    mine = (questions.c.person_id == person_id, questions.c.answer.is_not(None))
    lost = [
        row.question_id
        for row in connection.execute(select(questions.c.question_id, questions.c.answer).where(*mine))
        if _source_of(row.answer) not in {"", *stated}
    ]
    nobody = {"answer": None, "answered_by": None, "answered_at": None}
    for question_id in lost:
        connection.execute(update(questions).where(questions.c.question_id == question_id).values(**nobody))
    return len(lost)


def possible_answers(question: Question, sources: Iterable[Source]) -> tuple[str, ...]:
    """The answers offered, and for an amount also the sources stated since it was asked, each as unit:NAME."""
    if GRAMS_TYPED not in question.answers or question.about.get("amount") is None:
        return question.answers
    since = [f"{source.unit.value}:{source.name}" for source in sources]
    of_sources = [answer for answer in question.answers if ":" in answer]
    others = [answer for answer in question.answers if ":" not in answer]
    return tuple(dict.fromkeys((*of_sources, *since, *others)))


def record_answer(
    connection: Connection, question_id: int, answer: str, by: str, now_utc: datetime, sources: Iterable[Source] = ()
) -> StoredQuestion:
    """Keeps an answer with who gave it and when; a second answer replaces the first. Raises WrongUse.

    sources  every source of the person, which may be named although it was not stated when the question was asked
    """
    asked, named = one(connection, question_id).question, list(sources)
    standing = still_offered(asked, {source.name for source in named})
    possible = possible_answers(replace(asked, answers=standing), named)
    if answer not in possible and not (GRAMS_TYPED in possible and 0 < (grams_typed(answer) or 0) <= MOST_GRAMS_TYPED):
        raise WrongUse(
            f"'{answer}' is none of the answers to question {question_id}", "answer one of: " + ", ".join(possible)
        )
    values = {"answer": answer, "answered_by": by, "answered_at": stored(now_utc)}
    connection.execute(update(questions).where(questions.c.question_id == question_id).values(**values))
    return _asked(connection.execute(select(questions).where(questions.c.question_id == question_id)).one())
