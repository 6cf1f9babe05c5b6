"""Facts about a person as they are changed: from which day, what was set in words, a weight that is odd."""

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from gramrise.cli.context import Household
from gramrise.cli.parse import past_date

if TYPE_CHECKING:
    from gramrise.domain.care_plan import CarePlan
    from gramrise.domain.person import Dated, Person
    from gramrise.domain.questions import Question


def weighed(house: Household, person: "Person", day: date, kg: float) -> str:
    """Put a weighing away. Returns what is asked about it while it counts nowhere; '' where it counts.

    person  with the weighings that count
    """
    from gramrise.intake import load_settings, weight_questions

    asked = weight_questions({day: kg}, person, load_settings(house.home))
    told = house.store.weigh(person.person_id, day, kg, asked, house.now_utc())
    if not told.waits:
        return ""
    return weight_waits(asked[0].sentence)


def weight_waits(sentence: str) -> str:
    """What becomes of a weight that is asked about, said behind the question."""
    return (
        f"{sentence} It counts nowhere until you say: gramrise ask. A slip? Weigh anew for that day, or take "
        "it back: gramrise undo. A wrong birth date: gramrise person set ID --born."
    )


def doubted_by_age(house: Household, person: "Person") -> "list[Question]":
    """What is asked about a person's weights, those that wait among them, beside the birth date stated now."""
    from gramrise.intake import age_questions, load_settings

    told = [each.question.about for each in house.store.questions(person.person_id)]
    waiting = [(date.fromisoformat(str(each["on"])), float(str(each["kg"]))) for each in told if "kg_if_pounds" in each]
    weights = sorted({*person.weights_kg.entries, *waiting})
    return age_questions(weights, person, load_settings(house.home))


def with_plan(plans: "Dated[CarePlan]", changes: dict[str, Any], day: date) -> "Dated[CarePlan]":
    """The plans with changes from `day` on; what a later plan states otherwise stands from its own day on."""
    from gramrise.domain.care_plan import CarePlan
    from gramrise.domain.person import Dated

    before = plans.on(day) or CarePlan()
    entries = dict(plans.entries)
    entries.setdefault(day, before)
    open_changes = dict(changes)
    for at in sorted(entries):
        if at < day:
            continue
        if at > day:
            open_changes = {k: v for k, v in open_changes.items() if getattr(entries[at], k) == getattr(before, k)}
        entries[at] = replace(entries[at], **open_changes)
    return Dated(tuple(entries.items()))


def what_was_set(person: "Person", names: tuple[str, ...], day: date) -> list[str]:
    """What holds from a date, and what has no date: 'zone set from 2026-03-01.', 'name set.'"""
    from gramrise.domain.person import Dated

    words = {"log_complete_from": "whether the log is complete", "target_mg_dl": "target"}
    told = {name: words.get(name, name.replace("_", " ")) for name in names}
    dated = [told[name] for name in names if isinstance(getattr(person, name), Dated)]
    always = [told[name] for name in names if not isinstance(getattr(person, name), Dated)]
    lines = [f"{', '.join(dated)} set from {day.isoformat()}."] if dated else []
    return lines + ([f"{', '.join(always)} set."] if always else [])


def from_day(since: str | None, person: "Person", house: Household) -> date:
    """The day from which a change holds. One to come is refused: from now on it would be taken to hold already."""
    today = house.now_utc().astimezone(person.zone_now()).date()
    return past_date(since, today, "the day", person.language) if since else today
