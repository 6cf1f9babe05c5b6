"""What a family has not said yet, and what of theirs waits: named by `check`, person by person."""

from collections.abc import Iterator
from datetime import datetime, timedelta

from gramrise.domain.care_plan import CarePlan, has_number, last_day_of
from gramrise.domain.person import Person
from gramrise.nightly.settings import NightlySettings
from gramrise.report import ScreenWords, screen_words
from gramrise.store import Store

AHEAD = timedelta(hours=1)  # of this machine's clock; our choice: a device may be some minutes ahead
Named = tuple[str, str]  # code, sentence


def still_missing(persons: list[Person], now_utc: datetime) -> Iterator[Named]:
    """What cards and reports lack before they say everything; nothing of it keeps the service from running."""
    for person in persons:
        words, who = screen_words(person.language), person.person_id
        today = now_utc.astimezone(person.zone_now()).date()
        begun = [since for since, _ in person.care_plan.entries if since <= today]
        plan = person.care_plan.on(today) or CarePlan()
        if plan.standard_grams is None and plan.below_54_grams is None:
            yield "plan_missing", words.say("check.plan_missing", person=who)
        elif last_day_of(plan, person.born, begun[-1]) < today:
            yield "plan_over", words.say("check.plan_over", person=who)
        if not plan.contacts:
            yield "contact_missing", words.say("check.contact_missing", person=who)
        elif not any(has_number(contact) for contact in plan.contacts):
            yield "contact_missing", words.say("check.contact_without_number", person=who)
        if not person.name:
            yield "name_missing", words.say("check.name_missing", person=who)


def waiting(store: Store, persons: list[Person], now_utc: datetime, settings: NightlySettings) -> Iterator[Named]:
    """Weights in doubt or not known, questions nobody has answered, and lines of files that count nowhere."""
    for person in persons:
        words, who = screen_words(person.language), person.person_id
        asked = store.questions(who)
        doubted = [each.question for each in asked if "kg_if_pounds" in each.question.about]
        if doubted:
            kg = ", ".join(words.number(float(str(each.about["kg"])), 1) for each in doubted)
            yield "weight_doubted", words.say("check.weight_doubted", person=who, kg=kg)
        elif person.weights_kg.latest() is None:
            yield "weight_missing", words.say("check.weight_missing", person=who)
        if len(asked) > len(doubted):
            yield "questions_open", words.say("check.questions_open", person=who, count=len(asked) - len(doubted))
        last = store.last_data_at(who)
        if last is not None and last > now_utc + AHEAD:
            yield (
                "data_ahead",
                words.say("check.data_ahead", person=who, at=words.time(last.astimezone(person.zone_now()))),
            )
        yield from (("source_unstated", said) for said in lost_strengths(store, person, words))
        yield from _set_aside(store, who, words, now_utc - timedelta(days=settings.set_aside_named_days))


def lost_strengths(store: Store, person: Person, words: ScreenWords) -> list[str]:
    """What to say of amounts whose source is stated no more."""
    lost = sorted(store.amounts_of_no_source(person.person_id).items())
    return [
        words.say("check.source_unstated", person=person.person_id, source=name, count=count) for name, count in lost
    ]


def _set_aside(store: Store, person_id: str, words: ScreenWords, since_utc: datetime) -> Iterator[Named]:
    for file, count in store.lines_set_aside(person_id, since_utc):
        yield "lines_set_aside", words.say("check.lines_set_aside", person=person_id, file=file, count=count)
