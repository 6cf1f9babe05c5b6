"""What answers change about weighings. See the table in `dose_answers`."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from sqlalchemy import Connection, select

from gramrise.domain.person import Dated
from gramrise.store.questions.stored_questions import StoredQuestion
from gramrise.store.schema import weights


@dataclass(frozen=True, slots=True)
class Weighing:
    """A stored weighing of one day. `before`: what it replaced, kg, latest first."""

    kg: float
    before: tuple[float, ...] = ()


def lay_over_weights(weighings: Mapping[date, Weighing], asked: Iterable[StoredQuestion]) -> Dated[float]:
    """The weights that count, kg. A weighing corrected since it was asked about stays.

    A weighing whose question is open does not count, whether typed or of a file: what stood that day before stands
    until the answer.
    """
    doubted = sorted((each for each in asked if is_of_a_weight(each)), key=lambda each: each.answer is not None)
    told = {_the_weighing(each): each for each in doubted}  # of two questions about one, the answered one holds
    entries = {}
    for day, weighing in weighings.items():
        for kg in (weighing.kg, *weighing.before):
            each = told.get((day, kg))
            if each is None or each.answer == "kilograms":
                entries[day] = kg
            elif each.answer == "pounds":
                entries[day] = float(str(each.question.about["kg_if_pounds"]))
            else:
                continue
            break
    return Dated(tuple(entries.items()))


# Kinds of questions that ask about a weighing.
KINDS: Final = ("weight_jump", "weight_for_age")


def is_of_a_weight(each: StoredQuestion) -> bool:
    """Whether a question asks about a weighing."""
    return "kg_if_pounds" in each.question.about


def _the_weighing(each: StoredQuestion) -> tuple[date, float]:
    about = each.question.about
    return date.fromisoformat(str(about["on"])), float(str(about["kg"]))


def moot(connection: Connection, asked: Sequence[StoredQuestion]) -> set[int]:
    """Open questions about weighings that stand no longer: another was stated for their day since.

    They are only hidden: where that other is taken back, they are open again.
    """
    about = [each for each in asked if each.answer is None and is_of_a_weight(each)]
    if not about:
        return set()
    table = weights
    whose = {each.question.person_id for each in about}
    standing = {
        (row.person_id, row.on): row.kg for row in connection.execute(select(table).where(table.c.person_id.in_(whose)))
    }
    return {
        each.question_id
        for each in about
        if standing.get((each.question.person_id, _the_weighing(each)[0].isoformat())) != _the_weighing(each)[1]
    }
