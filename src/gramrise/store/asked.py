"""Questions only a person can answer, and what their answers change.

The log is kept as it was written; an answer is kept beside it with its origin and laid over the doses when they are
read. `Question.about` says what an answer is applied to:

    about = {"doses": [{"taken_at_utc": "2026-03-01T02:10:00+00:00", "source": "tin", "ordinal": 1}, ...],
             "effects": {"piece": {"amount_unit": "piece"}, "same": {"drop": true}, "apart": {}}}

An effect sets columns of the doses named (amount, amount_unit, grams, source, form, taken_at_utc), multiplies grams
(`"grams_times": 0.25`) or drops the rows. An answer without an effect changes nothing and closes the question.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import polars as pl
from sqlalchemy import Connection, Row, delete, insert, select, update

from gramrise.domain.batch import Question
from gramrise.domain.problems import WrongUse
from gramrise.store.moments import instant, instant_or_none, stored
from gramrise.store.schema import questions

MAYBE_TWICE: Final = "maybe_twice"
SAME: Final = "same"
APART: Final = "apart"


@dataclass(frozen=True, slots=True)
class Asked:
    """A stored question, open while `answer` is None."""

    question_id: int
    question: Question
    asked_at_utc: datetime
    answer: str | None = None
    answered_by: str = ""
    answered_at_utc: datetime | None = None


def ask(
    connection: Connection, asked: Iterable[Question], now_utc: datetime, asked_by: str, import_id: int | None = None
) -> int:
    """Stores the questions that were never asked before. Returns how many those are."""
    new = 0
    for question in asked:
        same = (questions.c.person_id == question.person_id, questions.c.kind == question.kind)
        met = select(questions.c.question_id).where(*same, questions.c.key == question.key)
        if connection.execute(met).first() is not None:
            continue
        connection.execute(
            insert(questions).values(
                person_id=question.person_id,
                kind=question.kind,
                key=question.key,
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


def withdraw(connection: Connection, person_id: str, still_asked: Iterable[Question], asked_by: str) -> None:
    """Forgets the open questions of one asker that it no longer asks; answered ones stay."""
    standing = {(question.kind, question.key) for question in still_asked}
    mine = (questions.c.person_id == person_id, questions.c.asked_by == asked_by, questions.c.answer.is_(None))
    for row in connection.execute(select(questions).where(*mine)).all():
        if (row.kind, row.key) not in standing:
            connection.execute(delete(questions).where(questions.c.question_id == row.question_id))


def load(connection: Connection, person_id: str | None, only_open: bool) -> list[Asked]:
    """Questions in the order they were asked; of one person, or of all."""
    chosen = select(questions).order_by(questions.c.question_id)
    if person_id is not None:
        chosen = chosen.where(questions.c.person_id == person_id)
    if only_open:
        chosen = chosen.where(questions.c.answer.is_(None))
    return [_asked(row) for row in connection.execute(chosen)]


def _asked(row: Row[Any]) -> Asked:
    question = Question(
        row.person_id, row.kind, row.key, row.sentence, tuple(json.loads(row.answers)), json.loads(row.about)
    )
    at = instant_or_none(row.answered_at)
    return Asked(row.question_id, question, instant(row.asked_at), row.answer, row.answered_by or "", at)


def record_answer(connection: Connection, question_id: int, answer: str, by: str, now_utc: datetime) -> Asked:
    """Keeps an answer with who gave it and when; a second answer replaces the first. Raises WrongUse."""
    row = connection.execute(select(questions).where(questions.c.question_id == question_id)).first()
    if row is None:
        raise WrongUse(f"there is no question {question_id}", "look at the open questions with `gramrise ask`")
    offered = json.loads(row.answers)
    if offered and answer not in offered:
        raise WrongUse(
            f"'{answer}' is none of the answers to question {question_id}", "answer one of: " + ", ".join(offered)
        )
    values = {"answer": answer, "answered_by": by, "answered_at": stored(now_utc)}
    connection.execute(update(questions).where(questions.c.question_id == question_id).values(**values))
    return _asked(connection.execute(select(questions).where(questions.c.question_id == question_id)).one())


def named_doses(question: Question) -> list[dict[str, Any]]:
    """The doses a question is about: taken_at_utc (aware), source, ordinal of each."""
    named = question.about.get("doses", [])
    assert isinstance(named, list)
    return [{**dose, "taken_at_utc": datetime.fromisoformat(dose["taken_at_utc"])} for dose in named]


def lay_answers_over(doses: pl.DataFrame, asked: Iterable[Asked]) -> pl.DataFrame:
    """The doses as the family has since explained them. Open `maybe_twice` questions mark the later dose.

    doses    frame of the contract; returned with the same columns, rows an answer drops left out
    """
    for each in asked:
        effect = _effect(each)
        if effect:
            doses = _applied(doses, named_doses(each.question), effect)
    return doses


def _effect(each: Asked) -> dict[str, Any]:
    if each.answer is None:
        return {"remark": MAYBE_TWICE} if each.question.kind == MAYBE_TWICE else {}
    effects = each.question.about.get("effects", {})
    assert isinstance(effects, dict)
    return dict(effects.get(each.answer, {}))


def _applied(doses: pl.DataFrame, named: list[dict[str, Any]], effect: dict[str, Any]) -> pl.DataFrame:
    hit = pl.lit(False)
    for dose in named:
        same_minute = pl.col("taken_at_utc").dt.truncate("1m") == dose["taken_at_utc"].replace(second=0, microsecond=0)
        hit = hit | (same_minute & (pl.col("source") == dose["source"]) & (pl.col("ordinal") == dose["ordinal"]))
    if effect.get("drop"):
        return doses.filter(~hit)
    changed: list[pl.Expr] = []
    for name, value in effect.items():
        if name == "remark":
            marked = pl.concat_list("remarks", pl.lit([value], dtype=pl.List(pl.String))).list.unique(
                maintain_order=True
            )
            changed.append(pl.when(hit).then(marked).otherwise(pl.col("remarks")).alias("remarks"))
        elif name == "grams_times":
            changed.append(pl.when(hit).then(pl.col("grams") * value).otherwise(pl.col("grams")).alias("grams"))
        elif name in doses.columns:
            told = datetime.fromisoformat(value) if name == "taken_at_utc" else value
            literal = pl.lit(told, dtype=doses.schema[name])
            changed.append(pl.when(hit).then(literal).otherwise(pl.col(name)).alias(name))
    return doses.with_columns(changed)
