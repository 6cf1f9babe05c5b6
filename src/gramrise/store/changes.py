"""What was changed by hand or by a file, in the order it was done: what `undo` lists and takes back (`undoing`).

kind      about
given     import_ids, doses: what was logged by `give`; as_typed: the words of each that is asked about, else ''
import    import_ids, file, rows; rows_of_counts: of a table of counts, as `rows` of counted
weighing  import_ids, on, kg
answer    question_ids, sentence, asked (what the first of them is about), answer, before (answer, by, instant of each)
facts     facts: [fact, from_on, before, after], values as JSON text, null where there is none
counted   rows: table, before, after (`supply_rows`); facts, empty
mixed     rows and facts: a batch, new or corrected, and what it states of its source
stock     rows and facts, empty: what was counted on hand
"""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, Row, insert, select, update

from gramrise.domain.problems import WrongUse
from gramrise.store.instants import instant, instant_or_none, stored
from gramrise.store.schema import changes, doses, events, fingers, readings

GIVEN: Final = "given"
IMPORT: Final = "import"
WEIGHING: Final = "weighing"
ANSWER: Final = "answer"
FACTS: Final = "facts"
COUNTED: Final = "counted"
MIXED: Final = "mixed"
STOCKED: Final = "stock"
OF_SUPPLIES: Final = (COUNTED, MIXED, STOCKED)
GIVE: Final = "give"  # the layout of what `give` logs


@dataclass(frozen=True, slots=True)
class Change:
    """One change of a person's inputs or facts.

    taken_back_at_utc  when it was undone, else None
    stands_by          of one just undone: the changes that state some of the same, which therefore stays
    """

    change_id: int
    person_id: str
    kind: str
    made_at_utc: datetime
    about: dict[str, Any]
    taken_back_at_utc: datetime | None = None
    stands_by: tuple[int, ...] = ()


def record(connection: Connection, person_id: str, kind: str, now_utc: datetime, about: dict[str, Any]) -> None:
    """Notes a change that was just made. Numbers are never used twice: rows are marked, not deleted."""
    told = json.dumps(about, ensure_ascii=False)
    connection.execute(insert(changes).values(person_id=person_id, kind=kind, made_at=stored(now_utc), about=told))


def load(
    connection: Connection, person_id: str | None, most: int | None, without: frozenset[str] = frozenset()
) -> list[Change]:
    """The last changes, latest first, those taken back among them. `most` None: all; `without`: kinds left out."""
    chosen = select(changes).where(changes.c.kind.not_in(without)).order_by(changes.c.change_id.desc()).limit(most)
    if person_id is not None:
        chosen = chosen.where(changes.c.person_id == person_id)
    return [_change(row) for row in connection.execute(chosen)]


def taken_back_spans(connection: Connection, person_id: str, kinds: frozenset[str]) -> list[tuple[datetime, datetime]]:
    """(when it was made, when it was taken back) of each change of these kinds that stands no more."""
    mine = (changes.c.person_id == person_id, changes.c.kind.in_(kinds), changes.c.taken_back_at.is_not(None))
    rows = connection.execute(select(changes.c.made_at, changes.c.taken_back_at).where(*mine))
    return [(instant(made_at), instant(back)) for made_at, back in rows]


def standing(connection: Connection, person_id: str) -> list[Change]:
    """A person's changes that brought rows and are not taken back, latest first."""
    mine = (changes.c.person_id == person_id, changes.c.taken_back_at.is_(None))
    chosen = select(changes).where(*mine, changes.c.kind.in_((GIVEN, IMPORT, WEIGHING)))
    return [_change(row) for row in connection.execute(chosen.order_by(changes.c.change_id.desc()))]


def that_brought(connection: Connection, person_id: str, start_utc: datetime, end_utc: datetime | None) -> list[Change]:
    """A person's changes that stand and logged something in [start, end), latest first. `end_utc` None: no end."""
    brought: set[int] = set()
    for at in (readings.c.at_utc, fingers.c.at_utc, doses.c.taken_at_utc, events.c.at_utc):
        chosen = select(at.table.c.import_id).where(at.table.c.person_id == person_id, at >= stored(start_utc))
        if end_utc is not None:
            chosen = chosen.where(at < stored(end_utc))
        brought |= {import_id for import_id in connection.execute(chosen.distinct()).scalars() if import_id is not None}
    return [each for each in standing(connection, person_id) if brought.intersection(each.about["import_ids"])]


def says_the_same(other: Change, change: Change) -> bool:
    """Whether another change logs by hand the very glucose that this one logs."""
    alike = other.about.get("doses") and other.about["doses"] == change.about.get("doses")
    return bool(alike) and other.kind == change.kind == GIVEN and other.change_id != change.change_id


def one(connection: Connection, change_id: int) -> Change:
    """One change. Raises WrongUse where there is none of that number."""
    row = connection.execute(select(changes).where(changes.c.change_id == change_id)).first()
    if row is None:
        raise WrongUse(f"there is no change {change_id}", "gramrise undo lists the last changes with their numbers")
    return _change(row)


def mark_taken_back(connection: Connection, change_id: int, now_utc: datetime) -> None:
    """Notes that a change no longer stands."""
    mine = changes.c.change_id == change_id
    connection.execute(update(changes).where(mine).values(taken_back_at=stored(now_utc)))


def join_answer(connection: Connection, person_id: str, now_utc: datetime, answer: str) -> Change | None:
    """The answer given in the same instant, with the same word: one answer for all that are alike is one change."""
    chosen = select(changes).where(
        changes.c.person_id == person_id, changes.c.kind == ANSWER, changes.c.made_at == stored(now_utc)
    )
    found = [_change(row) for row in connection.execute(chosen)]
    return next((each for each in found if each.about["answer"] == answer), None)


def rewrite(connection: Connection, change_id: int, about: dict[str, Any]) -> None:
    """Replaces what a change is about."""
    told = json.dumps(about, ensure_ascii=False)
    connection.execute(update(changes).where(changes.c.change_id == change_id).values(about=told))


def _change(row: Row[Any]) -> Change:
    back = instant_or_none(row.taken_back_at)
    return Change(row.change_id, row.person_id, row.kind, instant(row.made_at), json.loads(row.about), back)
