"""Taking back one change, whole: what it brought goes, what it replaced stands again, nothing else changes."""

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select, update

from gramrise.domain.care_plan import CarePlan
from gramrise.domain.problems import WrongUse
from gramrise.store import care_plans, changes, persons, schema, supply_rows
from gramrise.store.instants import BEGINNING, instant, stored
from gramrise.store.questions import kinds, stored_questions


def undo(connection: Connection, change_id: int, now_utc: datetime, whose: str | None = None) -> changes.Change:
    """Takes one change back; one taken back already stays so. Returns the change as it stood before.

    Glucose logged more than once by hand, with the same source, amount and minute, is one fact: the changes that log
    it go together. What a file states, too, stays, and the change says which (`stands_by`).

    whose   it must be this person's
    raises  WrongUse where there is none of that number, or where it cannot be taken back alone
    """
    change = changes.one(connection, change_id)
    if whose is not None and change.person_id != whose:
        raise WrongUse(
            f"change {change_id} is {change.person_id}'s, not {whose}'s; nothing was taken back",
            "gramrise undo lists the last changes with their numbers",
        )
    if change.taken_back_at_utc is not None:
        return change
    if change.kind == changes.FACTS:
        _undo_facts(connection, change)
    elif change.kind == changes.ANSWER:
        _undo_answer(connection, change)
    elif change.kind in changes.OF_SUPPLIES:
        _undo_rows(connection, change, change.about["rows"])
        if change.about["facts"]:
            _undo_facts(connection, change)
    else:
        change = _undo_imports(connection, change, now_utc)
    changes.mark_taken_back(connection, change_id, now_utc)
    return change


def record_facts(connection: Connection, person_id: str, before: dict[tuple[str, str], str], now_utc: datetime) -> None:
    """Notes which facts of a person are others than `before` (of `persons.facts_as_text`)."""
    told = persons.changed_facts(connection, person_id, before)
    if told:
        changes.record(connection, person_id, changes.FACTS, now_utc, {"facts": told})


def record_answer(
    connection: Connection, asked: stored_questions.StoredQuestion, answer: str, now_utc: datetime
) -> None:
    """Notes an answer; those given together, in one instant, are one change. `asked`: as it stood before."""
    person_id = asked.question.person_id
    at = None if asked.answered_at_utc is None else stored(asked.answered_at_utc)
    before = [asked.answer, asked.answered_by or None, at]
    together = changes.join_answer(connection, person_id, now_utc, answer)
    if together is not None:
        ids, befores = together.about["question_ids"], together.about["before"]
        about = {**together.about, "question_ids": [*ids, asked.question_id], "before": [*befores, before]}
        changes.rewrite(connection, together.change_id, about)
        return
    about = {
        "question_ids": [asked.question_id],
        "kind": asked.question.kind,
        "sentence": asked.question.sentence,
        "asked": dict(asked.question.about),
        "answer": answer,
        "before": [before],
    }
    changes.record(connection, person_id, changes.ANSWER, now_utc, about)


def _undo_imports(connection: Connection, change: changes.Change, now_utc: datetime) -> changes.Change:
    """Takes its imports back, and those of the same glucose typed again. Returns it with what it stands by still."""
    from gramrise.store.ingest import undo as imports

    _undo_rows(connection, change, change.about.get("rows_of_counts", ()))
    standing = changes.standing(connection, change.person_id)
    again = [each for each in standing if changes.says_the_same(each, change)]
    typed = change.kind != changes.IMPORT
    known = schema.imports.c.import_id
    heirs: set[int] = set()
    for each in (*again, change):
        for import_id in reversed(each.about["import_ids"]):
            if connection.execute(select(known).where(known == import_id)).first() is not None:
                heirs |= imports.take_back(connection, import_id, with_answers=typed)
    for each in again:
        changes.mark_taken_back(connection, each.change_id, now_utc)
    left = [each for each in standing if each not in again and each.change_id != change.change_id]
    stands_by = (each.change_id for each in left if heirs.intersection(each.about.get("import_ids", ())))
    return replace(change, stands_by=tuple(stands_by))


def _undo_rows(connection: Connection, change: changes.Change, made: Sequence[supply_rows.RowChange]) -> None:
    for row in made:
        _refuse_answered(connection, change, row)
    if not supply_rows.put_back(connection, change.person_id, made):
        raise _changed_since(change)


def _refuse_answered(connection: Connection, change: changes.Change, row: supply_rows.RowChange) -> None:
    """Raises WrongUse where glucose is logged by an answer about a count that would go: it would stand for nothing."""
    if row["table"] != schema.container_counts.name or row["before"] is not None:
        return
    after, table = row["after"], schema.questions
    key = f"{after['container']}|{instant(after['to_at']).isoformat()}"
    mine = (table.c.person_id == change.person_id, table.c.key == key, table.c.kind == kinds.GONE)
    answered = connection.execute(select(table.c.answer).where(*mine, table.c.answer.is_not(None))).scalar()
    if answered is not None and answered.startswith(kinds.TAKEN):
        raise WrongUse(
            f"by an answer about the count of change {change.change_id} glucose is logged",
            "take that answer back first: gramrise undo lists it, above this change",
        )


def _undo_answer(connection: Connection, change: changes.Change) -> None:
    about = change.about
    if (about["kind"] == kinds.WHOSE_FILE and about["answer"] != change.person_id) or (
        about["kind"] == kinds.REPLACED and about["answer"] == kinds.TAKE_BACK
    ):
        raise WrongUse("by that answer a file was taken back", "import the file again for the person it is of")
    for question_id, before in zip(change.about["question_ids"], change.about["before"], strict=True):
        table = schema.questions
        mine = table.c.question_id == question_id
        row = connection.execute(select(table.c.answer).where(mine)).first()
        if row is None:
            continue  # what it was about has gone since
        if row.answer != change.about["answer"]:
            raise _changed_since(change)
        answer, by, at = before
        values: dict[str, Any] = {"answer": answer, "answered_by": by, "answered_at": at}
        connection.execute(update(table).where(mine).values(**values))
        touched = kinds.touches_from(stored_questions.one(connection, question_id), BEGINNING)
        persons.mark_changed(connection, change.person_id, touched)


def _undo_facts(connection: Connection, change: changes.Change) -> None:
    standing = persons.facts_as_text(connection, change.person_id)
    told = [_as_it_stands(fact, standing) for fact in change.about["facts"]]
    told += _sources_of_later_days(change.about["facts"], standing)
    if any(standing.get((fact, from_on)) != after for fact, from_on, _, after, *_ in told):
        raise _changed_since(change)
    for fact, from_on, before, *_ in told:
        persons.put_fact(connection, change.person_id, fact, from_on, before)
    persons.reopen_answers(connection, change.person_id)
    if any(fact not in persons.PRINTED for fact, *_ in told):
        persons.mark_changed(connection, change.person_id, BEGINNING)


def _as_it_stands(fact: list[Any], standing: dict[tuple[str, str], str]) -> list[Any]:
    """The fact; of a care plan or of sources to which others were added since, with those in it before and after.

    Only the lines, or the sources, that the change set go back to what they were.
    """
    name, from_on, before, after, *held = fact
    now = standing.get((name, from_on))
    if now is None or after is None or now == after:
        return fact
    text = before or (held[0] if held else None)
    if name == persons.SOURCES:
        back = _sources_back(text, after, now)
        return fact if back is None else [name, from_on, back, now, None]
    if name != persons.CARE_PLAN:
        return fact
    was = json.loads(text) if text else care_plans.written(CarePlan())
    own, stands = json.loads(after), json.loads(now)
    lines = [line for line in own if own[line] != was.get(line)]
    if any(stands.get(line) != own[line] for line in lines):
        return fact  # one of them was changed again
    back = json.dumps({**stands, **{line: was.get(line) for line in lines}}, ensure_ascii=False)
    return [name, from_on, back, now, None]


def _sources_back(text: str | None, after: str, now: str) -> str | None:
    """The sources that stand, with those that a change set as they were before; None where one was changed again."""
    was, own, stands = ({each["name"]: each for each in json.loads(told or "[]")} for told in (text, after, now))
    named = [name for name in {**was, **own} if was.get(name) != own.get(name)]
    if any(stands.get(name) != own.get(name) for name in named):
        return None
    back = {name: was[name] for name in named if name in was}
    kept = [back.pop(name, each) for name, each in stands.items() if name not in named or name in was]
    return json.dumps([*kept, *back.values()], ensure_ascii=False)


def _sources_of_later_days(facts: Sequence[list[Any]], standing: dict[tuple[str, str], str]) -> list[list[Any]]:
    """Lists of sources written since for later days, which took over what a change set: there it goes back, too."""
    days = sorted(day for name, day in standing if name == persons.SOURCES)
    mine = {day: (before, after, held) for name, day, before, after, *held in facts if name == persons.SOURCES}
    if not mine or None in {after for _, after, _ in mine.values()}:
        return []
    told = []
    for day in days:
        earlier = [one for one in mine if one < day]
        if day in mine or not earlier:
            continue
        before, after, held = mine[max(earlier)]
        now = standing[persons.SOURCES, day]
        back = _sources_back(before or (held[0] if held else None), after, now)
        if back is not None:
            told.append([persons.SOURCES, day, back, now, None])
    return told


def _changed_since(change: changes.Change) -> WrongUse:
    return WrongUse(
        f"what change {change.change_id} set was changed again since",
        "take back the later change first: gramrise undo lists them, latest first",
    )
