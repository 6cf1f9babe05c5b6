"""What the other adult needs first: what was given last, by whom, when to look again, and the plan's next step."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from gramrise.domain.words import EventKind
from gramrise.store import Given, NotedBeside
from gramrise.web.views.amounts import given_words
from gramrise.web.views.contacts import Contact, called

if TYPE_CHECKING:
    from gramrise.web.visit import Visit


@dataclass(frozen=True, slots=True)
class Listed:
    """One line of what was given. `change_id` None: it cannot be taken back here."""

    words: str
    change_id: int | None


@dataclass(frozen=True, slots=True)
class Shared:
    """What all phones of a family show alike. `look_again_s` is an epoch time; steps are empty when it is long past."""

    line: str
    look_again_s: int | None
    steps: tuple[str, ...]
    contacts: tuple[Contact, ...]


def listed(visit: "Visit") -> tuple[Listed, ...]:
    """What was given in the hours that are listed, latest first."""
    since = visit.now_utc - timedelta(hours=visit.page.settings.listed_hours)
    beside = visit.store.phone_log.noted_since(visit.person.person_id, since)
    lines = [(each.taken_at_utc, Listed(_line(visit, each), each.change_id)) for each in _lately(visit)]
    lines += [(each.at_utc, Listed(_beside(visit, each), each.change_id)) for each in beside]
    return tuple(line for _, line in sorted(lines, key=lambda timed: timed[0], reverse=True))


def shared(visit: "Visit") -> Shared:
    """The first line and the next minutes."""
    lately = _lately(visit)
    if not lately:
        return Shared(visit.say("nothing_given", hours=visit.page.settings.listed_hours), None, (), ())
    look = lately[0].taken_at_utc + timedelta(minutes=_minutes(visit))
    over = look + timedelta(minutes=visit.page.settings.next_stays_minutes)
    line = _line(visit, lately[0])
    if visit.now_utc >= over:
        return Shared(line, None, (), ())
    line = visit.say("look_again_at", line=line, at=visit.words.clock(look))
    plan = visit.person.care_plan.latest()
    return Shared(line, int(look.timestamp()), _steps(visit), called(plan.contacts if plan else ()))


def entry_of_another(visit: "Visit", taken_at_utc: datetime) -> str:
    """The entry of another device within the warning's minutes of an instant, in words; "" for none."""
    near = timedelta(minutes=visit.page.settings.warn_minutes)
    for each in _lately(visit):
        if abs(each.taken_at_utc - taken_at_utc) < near and each.device_id != visit.device.device_id:
            return _line(visit, each)
    return ""


def _lately(visit: "Visit") -> list[Given]:
    since = visit.now_utc - timedelta(hours=visit.page.settings.listed_hours)
    return visit.store.phone_log.given_since(visit.person.person_id, since)


def _minutes(visit: "Visit") -> int:
    plan = visit.person.care_plan.latest()
    return (plan.look_again_minutes if plan else None) or visit.page.settings.look_again_minutes


def _line(visit: "Visit", given: Given) -> str:
    what = given_words(visit.words, given.amount, given.amount_unit, given.grams, given.source)
    return _told(visit, what, given.taken_at_utc, given.by)


def _beside(visit: "Visit", noted: NotedBeside) -> str:
    what = noted.text
    if noted.kind == EventKind.FOOD:
        grams = "" if noted.amount is None else visit.words.grams(noted.amount)
        what = visit.say("beside.food_grams", grams=grams) if grams else visit.say("beside.food_line")
        what += f" ({noted.text})" if noted.text else ""
    return _told(visit, what, noted.at_utc, noted.by)


def _told(visit: "Visit", what: str, at_utc: datetime, by_whom: str) -> str:
    words = visit.words
    minutes = max(0, int((visit.now_utc - at_utc).total_seconds() // 60))
    ago = (
        words.say("page.minutes_ago", count=minutes)
        if minutes < 60
        else words.say("page.hours_ago", count=minutes // 60)
    )
    by = words.say("page.by", who=by_whom) if by_whom else ""
    return ", ".join(part for part in (what, words.clock(at_utc), by, ago) if part)


def _steps(visit: "Visit") -> tuple[str, ...]:
    """The care plan's next steps; the guideline's caution where there is no plan."""
    words, plan = visit.words, visit.person.care_plan.latest()
    level = words.level(70)
    steps = [words.say("on_card.look", minutes=_minutes(visit))]
    if plan is not None and plan.second_grams is not None:
        amount = words.say("page.amount.g", n=words.grams(plan.second_grams))
        steps.append(words.say("on_card.second", level=level, amount=amount))
    steps.append(words.say("on_card.get_help", level=level))
    if plan is not None and plan.call_when:
        steps.append(words.say("on_card.call_when", when=plan.call_when))
    return tuple(steps)
