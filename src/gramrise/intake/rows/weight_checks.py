"""Questions about weights that jump from the one before, or lie far from what children of that age weigh."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from itertools import pairwise
from typing import Final

from gramrise.domain.person import Person
from gramrise.domain.questions import Question
from gramrise.domain.units import KG_PER_LB
from gramrise.intake.settings import IntakeSettings

AGE_KIND: Final = "weight_for_age"
Weighing = tuple[date, float]  # kg on a day


def weight_questions(fresh: Mapping[date, float], person: Person, settings: IntakeSettings) -> list[Question]:
    """Questions about newly stated weights, kg by day, beside those known of the person: kg or lb, or a slip?"""
    known = dict(person.weights_kg.entries)
    asked = {day: _age_question(person, day, kg) for day, kg in fresh.items() if _far_off(kg, person, day, settings)}
    all_days = {**known, **fresh}
    for day, kg in fresh.items():  # another weight for a day that has one
        if day in known and _jumps((day, known[day]), (day, kg), person, settings):
            asked.setdefault(day, _jump_question(person, day, kg, (day, known[day])))
    steady: date | None = None  # the latest weighing that is not asked about
    for before, day in pairwise(sorted(all_days)):
        steady = steady if before in asked else before
        if day not in fresh and before not in fresh:
            continue
        beside_it = [(other, all_days[other]) for other in (before, steady) if other is not None]
        if not all(_jumps(other, (day, all_days[day]), person, settings) for other in beside_it):
            continue  # after a slip, what goes with the weighing before it is no slip
        about, other = (day, before) if day in fresh else (before, day)
        asked.setdefault(about, _jump_question(person, about, fresh[about], (other, all_days[other])))
    return [asked[day] for day in sorted(asked)]


def age_questions(weights: Iterable[tuple[date, float]], person: Person, settings: IntakeSettings) -> list[Question]:
    """Questions about weights (day, kg) far from what people of that age weigh: a slip, or a wrong birth date?"""
    return [_age_question(person, day, kg) for day, kg in weights if _far_off(kg, person, day, settings)]


def _far_off(kg: float, person: Person, day: date, settings: IntakeSettings) -> bool:
    """Whether a weight is far from the age reference; of grown people, whether it is far below it."""
    grown = len(settings.weight_for_age_m_boys) - 1.0
    age = person.age_years(day)
    if age < 0:
        return True
    z = weight_for_age_z(kg, min(age, grown), person.sex, settings)
    if z is None:
        return False
    return z < -settings.weight_far_sd if age > grown else abs(z) > settings.weight_far_sd


def _jumps(before: Weighing, after: Weighing, person: Person, settings: IntakeSettings) -> bool:
    """Whether a weight lies further from an earlier one than the time between them, and growth in it, allow."""
    apart, allowed = after[1] / before[1], settings.weight_jump_share
    later_days = (after[0] - before[0]).days - settings.weight_jump_days
    if later_days > 0:
        apart /= _median_kg(person.age_years(after[0]), settings) / _median_kg(person.age_years(before[0]), settings)
        allowed += settings.weight_jump_share_per_year * later_days / 365.25
    return max(apart, 1 / apart) - 1 > allowed


def _median_kg(age_years: float, settings: IntakeSettings) -> float:
    """The middle of what boys and girls weigh; grown people do not grow."""
    age = min(max(age_years, 0.0), len(settings.weight_for_age_m_boys) - 1.0)
    return (_at(age, settings.weight_for_age_m_boys) + _at(age, settings.weight_for_age_m_girls)) / 2


def weight_for_age_z(kg: float, age_years: float, sex: str, settings: IntakeSettings) -> float | None:
    """Standard deviations from the median for age and sex; both sexes' mean where none is known; None over 20 years.

    source  the LMS tables in config/intake.toml
    """
    if not 0 <= age_years <= len(settings.weight_for_age_m_boys) - 1:
        return None
    boys = _z(
        kg, age_years, settings.weight_for_age_l_boys, settings.weight_for_age_m_boys, settings.weight_for_age_s_boys
    )
    girls = _z(
        kg, age_years, settings.weight_for_age_l_girls, settings.weight_for_age_m_girls, settings.weight_for_age_s_girls
    )
    return {"boy": boys, "girl": girls}.get(sex, (boys + girls) / 2)


def _z(kg: float, age: float, ls: tuple[float, ...], ms: tuple[float, ...], ss: tuple[float, ...]) -> float:
    power, middle, spread = (_at(age, row) for row in (ls, ms, ss))
    return float(((kg / middle) ** power - 1) / (power * spread))


def _at(age: float, row: tuple[float, ...]) -> float:
    """A row of whole years at an age between them."""
    at = min(int(age), len(row) - 2)
    share = age - at
    return row[at] * (1 - share) + row[at + 1] * share


def _age_question(person: Person, day: date, kg: float) -> Question:
    age = person.age_years(day)
    beside = f"an age of {int(age)} years (born {person.born})" if age >= 0 else f"a birth on {person.born}"
    return _question(person, day, kg, beside, AGE_KIND, "a wrong birth date, ")


def _jump_question(person: Person, day: date, kg: float, other: Weighing) -> Question:
    """The slip may be the weight that counts: what to do then is told, too."""
    on, beside_kg = other
    beside = f"{beside_kg:.1f} kg {'of that day' if on == day else f'on {on}'}"
    question = _question(person, day, kg, beside, "weight_jump")
    mend = f"kilograms puts {kg:.1f} kg in its place" if on == day else "take it back, gramrise undo"
    return replace(
        question,
        sentence=f"{question.sentence} If {beside_kg:.1f} kg is the slip: {mend}.",
        about={**question.about, "beside_kg": beside_kg, "beside_on": on.isoformat()},
    )


def _question(person: Person, day: date, kg: float, beside: str, kind: str, or_else: str = "") -> Question:
    as_pounds = kg * KG_PER_LB
    sentence = (
        f"Weight {kg:.1f} kg on {day} does not go with {beside}. Kilograms, pounds ({as_pounds:.1f} kg), "
        f"{or_else}or a slip?"
    )
    about: dict[str, object] = {"on": day.isoformat(), "kg": kg, "kg_if_pounds": as_pounds}
    return Question(person.person_id, kind, f"{day} {kg:g}", sentence, ("pounds", "kilograms", "leave_out"), about)
