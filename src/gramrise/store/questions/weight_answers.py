"""What answers change about weighings. See the table in `dose_answers`."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from gramrise.domain.person import Dated
from gramrise.store.questions.stored_questions import StoredQuestion


@dataclass(frozen=True, slots=True)
class Weighing:
    """A stored weighing of one day. `typed`: stated by hand; `before`: what imports replaced, kg, latest first."""

    kg: float
    typed: bool = False
    before: tuple[float, ...] = ()


def lay_over_weights(weighings: Mapping[date, Weighing], asked: Iterable[StoredQuestion]) -> Dated[float]:
    """The weights that count, kg. A weighing corrected since it was asked about stays.

    An imported weighing whose question is open does not count: what stood that day before stands until the answer.
    """
    doubted = sorted((each for each in asked if is_of_a_weight(each)), key=lambda each: each.answer is not None)
    told = {_the_weighing(each): each for each in doubted}  # of two questions about one, the answered one holds
    entries = {}
    for day, weighing in weighings.items():
        for kg in (weighing.kg, *weighing.before):
            each = told.get((day, kg))
            typed = weighing.typed and kg == weighing.kg
            if each is None or each.answer == "kilograms" or (typed and each.answer is None):
                entries[day] = kg
            elif each.answer == "pounds":
                entries[day] = float(str(each.question.about["kg_if_pounds"]))
            else:
                continue
            break
    return Dated(tuple(entries.items()))


def is_of_a_weight(each: StoredQuestion) -> bool:
    """Whether a question asks about a weighing."""
    return "kg_if_pounds" in each.question.about


def _the_weighing(each: StoredQuestion) -> tuple[date, float]:
    about = each.question.about
    return date.fromisoformat(str(about["on"])), float(str(about["kg"]))
