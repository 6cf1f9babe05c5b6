"""A weighing that is typed in goes the way of an imported one: remembered, asked about where it is odd, undone whole.

Speaks SQL without frames: a command about a person loads none.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, delete, insert, select, update

from gramrise.domain.questions import Question
from gramrise.store import changes, schema
from gramrise.store.instants import BEGINNING, earliest_of_day, stored
from gramrise.store.persons import mark_changed, refuse_unknown
from gramrise.store.questions import stored_questions

LAYOUT = "weigh"
BY_AGE = "weight_for_age"  # the kind of question that the birth date decides


@dataclass(frozen=True, slots=True)
class Weighed:
    """What became of a typed weighing. `waits`: it counts nowhere before its question is answered."""

    known: bool
    waits: bool


def weigh(
    connection: Connection, person_id: str, day: date, kg: float, asked: Sequence[Question], now_utc: datetime
) -> Weighed:
    """Puts a weighing of a local day away.

    asked   the questions it raises beside the weighings that count; none where it goes with them
    raises  WrongUse for an unknown person
    """
    refuse_unknown(connection, person_id)
    table = schema.weights
    mine = (table.c.person_id == person_id, table.c.on == day.isoformat())
    standing = connection.execute(select(table).where(*mine)).first()
    if standing is not None and standing.kg == kg and not _left_out(connection, asked):
        return Weighed(known=True, waits=bool(asked) and not _answered(connection, asked))
    import_id = _enter(connection, person_id, day, kg, now_utc)
    if standing is not None and standing.kg != kg:
        _remember(connection, person_id, day, standing.kg, kg, standing.import_id, import_id, now_utc)
    connection.execute(delete(table).where(*mine))
    connection.execute(insert(table).values(person_id=person_id, on=day.isoformat(), kg=kg, import_id=import_id))
    for question in asked:
        _ask_anew(connection, question)
    stored_questions.ask(connection, asked, now_utc, "import", import_id)
    mark_changed(connection, person_id, earliest_of_day(day))
    about = {"import_ids": [import_id], "on": day.isoformat(), "kg": kg}
    changes.record(connection, person_id, changes.WEIGHING, now_utc, about)
    return Weighed(known=False, waits=bool(asked))


def doubt_by_age(connection: Connection, person_id: str, asked: Sequence[Question], now_utc: datetime) -> None:
    """Open questions about weights beside the age are `asked` from now on, and no others: the birth date changed.

    What was answered stays answered.
    """
    table = schema.questions
    standing = {question.key for question in asked}
    mine = (table.c.person_id == person_id, table.c.kind == BY_AGE, table.c.answer.is_(None))
    for row in connection.execute(select(table.c.question_id, table.c.key).where(*mine)).all():
        if row.key not in standing:
            connection.execute(delete(table).where(table.c.question_id == row.question_id))
    stored_questions.ask(connection, asked, now_utc, "birth date")
    mark_changed(connection, person_id, BEGINNING)


def doubt_anew(
    connection: Connection, person_id: str, judged: Sequence[int], asked: Sequence[Question], now_utc: datetime
) -> None:
    """Of the open questions `judged`, by number, about weights those that are `asked` stand, in the words of now."""
    table = schema.questions
    wanted = {(question.kind, question.key): question for question in asked}
    for row in connection.execute(select(table).where(table.c.question_id.in_(judged))).all():
        mine, standing = table.c.question_id == row.question_id, wanted.get((row.kind, row.key))
        if standing is None:
            connection.execute(delete(table).where(mine))
            continue
        about = json.dumps(standing.about, ensure_ascii=False)
        connection.execute(update(table).where(mine).values(sentence=standing.sentence, about=about))
    stored_questions.ask(connection, asked, now_utc, "weight taken back")
    mark_changed(connection, person_id, BEGINNING)


def _named(question: Question) -> tuple[object, ...]:
    table = schema.questions
    return (table.c.person_id == question.person_id, table.c.kind == question.kind, table.c.key == question.key)


def _answered(connection: Connection, asked: Sequence[Question]) -> bool:
    chosen = [select(schema.questions.c.answer).where(*_named(question)) for question in asked]  # type: ignore[arg-type]
    return all(connection.execute(each).scalar_one_or_none() is not None for each in chosen)


def _left_out(connection: Connection, asked: Sequence[Question]) -> bool:
    """Whether the same weighing was answered to be none: typed again, it is asked about again."""
    chosen = [select(schema.questions.c.answer).where(*_named(question)) for question in asked]  # type: ignore[arg-type]
    return any(connection.execute(each).scalar_one_or_none() == "leave_out" for each in chosen)


def _ask_anew(connection: Connection, question: Question) -> None:
    connection.execute(delete(schema.questions).where(*_named(question)))  # type: ignore[arg-type]


def _enter(connection: Connection, person_id: str, day: date, kg: float, now_utc: datetime) -> int:
    none = dict.fromkeys(("rows_repeated", "rows_passed_over", "corrected", "already_known", "conflicts"), 0)
    entered = connection.execute(
        insert(schema.imports).values(
            person_id=person_id,
            file=LAYOUT,
            content_hash=f"{LAYOUT} {day.isoformat()} {kg!r} {stored(now_utc)}",
            layout=LAYOUT,
            taken_in_at=stored(now_utc),
            rows_offered=1,
            added=1,
            quarantined=0,
            questions=0,
            remarks="[]",
            **none,
        )
    )
    key = entered.inserted_primary_key
    assert key is not None
    return int(key[0])


def _remember(
    connection: Connection,
    person_id: str,
    day: date,
    before_kg: float,
    kg: float,
    before_import_id: int | None,
    import_id: int,
    now_utc: datetime,
) -> None:
    """What stood on the day stands again where this one is doubted, left out or taken back."""
    connection.execute(
        insert(schema.corrections).values(
            person_id=person_id,
            table="weights",
            identity=json.dumps({"on": day.isoformat()}),
            before=json.dumps({"kg": before_kg}),
            after=json.dumps({"kg": kg}),
            before_import_id=before_import_id,
            import_id=import_id,
            corrected_at=stored(now_utc),
        )
    )
