"""Facts about a person as they are changed: from which day, what was set in words, a weight that is odd."""

from dataclasses import fields, replace
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from gramrise.cli.cards_ended import telling_ended_cards
from gramrise.cli.context import Household
from gramrise.cli.parse import past_date

if TYPE_CHECKING:
    from datetime import datetime
    from zoneinfo import ZoneInfo

    from gramrise.domain.care_plan import CarePlan
    from gramrise.domain.person import Dated, Person
    from gramrise.domain.questions import Question


WEIGHT_WAITS: Final = (
    "It counts nowhere until you say: gramrise ask. A slip? Weigh anew for that day, or take it back: gramrise undo. "
    "A wrong birth date: gramrise person set ID --born."
)


def weighed(house: Household, person: "Person", day: date, kg: float) -> str:
    """Put a weighing away. Returns what is asked about it while it counts nowhere; '' where it counts.

    person  with the weighings that count
    """
    from gramrise.intake import load_settings, weight_questions

    asked = weight_questions({day: kg}, person, load_settings(house.home))
    with telling_ended_cards(house, person.person_id):
        told = house.store.weigh(person.person_id, day, kg, asked, house.now_utc())
    if not told.waits:
        return ""
    return weight_waits(asked[0], person)


def weight_waits(question: "Question", person: "Person") -> str:
    """What is asked about a weight, and what becomes of it meanwhile, in the person's language."""
    from gramrise.report import in_language, question_words, screen_words

    told = question_words(question, person, screen_words(person.language))
    return f"{told} {in_language(WEIGHT_WAITS, person.language)}"


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
    """What holds from a date, and what has no date: 'zone set from 01 Mar 2026.', 'name set.', in their language."""
    from gramrise.domain.person import Dated
    from gramrise.report import screen_words

    words = screen_words(person.language)
    dated = [name for name in names if isinstance(getattr(person, name), Dated)]
    always = [name for name in names if name not in dated]
    on = words.say("undo.from_day", day=words.day(day))
    return [
        f"{words.say('undo.fact_set', fact=', '.join(words.say(f'fact.{name}') for name in named), on=since)}."
        for named, since in ((dated, on), (always, ""))
        if named
    ]


def not_yet_on_that_clock(person: "Person", zone_before: "ZoneInfo", now_utc: "datetime") -> list[str]:
    """What was stated for a day that has not come yet by the person's new clock: it holds from then, and not now."""
    from gramrise.domain.person import Dated
    from gramrise.report import screen_words

    words = screen_words(person.language)
    here, before = (now_utc.astimezone(zone).date() for zone in (person.zone_now(), zone_before))
    names = [
        each.name
        for each in fields(person)
        if isinstance(held := getattr(person, each.name), Dated) and each.name != "zone"
        and any(here < since <= before for since, _ in held.entries)
    ]  # fmt: skip
    if not names:
        return []
    facts = ", ".join(words.say(f"fact.{name}") for name in names)
    return [words.say("undo.from_tomorrow", facts=facts, day=words.day(before), today=words.day(here))]


def from_day(since: str | None, person: "Person", house: Household) -> date:
    """The day from which a change holds. One to come is refused: from now on it would be taken to hold already."""
    today = house.now_utc().astimezone(person.zone_now()).date()
    return past_date(since, today, "the day", person.language) if since else today
