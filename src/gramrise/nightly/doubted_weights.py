"""Weights that wait are judged anew once what they did not go with was taken back."""

from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from gramrise.domain.questions import Question
from gramrise.store import Store


@dataclass(frozen=True, slots=True)
class JudgedAnew:
    """What became of weights that waited: kg on the day of each that counts now, and what is asked of the others."""

    counting: tuple[tuple[date, float], ...] = ()
    asked: tuple[Question, ...] = ()


def judge_weights_anew(store: Store, home: Path, person_id: str, now_utc: datetime) -> JudgedAnew:
    """Judges each weight that waits, the earliest first, beside those that count now; what goes with them counts."""
    waiting = [each for each in store.questions(person_id) if "kg_if_pounds" in each.question.about]
    if not waiting:
        return JudgedAnew()
    from gramrise.intake import load_settings, weight_questions

    settings, person = load_settings(home), store.person(person_id)
    told = ((each.question.about["on"], each.question.about["kg"]) for each in waiting)
    counting: list[tuple[date, float]] = []
    asked: list[Question] = []
    for day, kg in sorted({(date.fromisoformat(str(on)), float(str(kg))) for on, kg in told}):
        doubts = weight_questions({day: kg}, person, settings)
        asked += doubts
        if not doubts:
            counting.append((day, kg))
            person = replace(person, weights_kg=person.weights_kg.with_entry(day, kg))
    if {each.question.sentence for each in waiting} != {each.sentence for each in asked}:
        store.doubt_anew(person_id, [each.question_id for each in waiting], asked, now_utc)
    return JudgedAnew(tuple(counting), tuple(asked))
