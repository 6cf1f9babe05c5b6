"""What the other adult needs first: what was given last, by whom, when to look again, and the plan's next step."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from gramrise.domain.words import EventKind
from gramrise.store import Given, NotedBeside
from gramrise.web.views.amounts import given_words, plan_amount
from gramrise.web.views.contacts import Contact, called

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gramrise.domain.care_plan import CarePlan
    from gramrise.web.visit import Visit


@dataclass(frozen=True, slots=True)
class Listed:
    """One line of what was given; `ago` apart, as in `Shared`. `change_id` None: it cannot be taken back here."""

    words: str
    ago: str
    change_id: int | None


@dataclass(frozen=True, slots=True)
class Shared:
    """What all phones of a family show alike. `look_again_s` is an epoch time; steps are empty when it is long past.

    `ago` stands apart: a page kept for when there is no network must not say it.
    """

    line: str
    ago: str = ""
    look: str = ""
    together: str = ""
    look_again_s: int | None = None
    steps: tuple[str, ...] = ()
    contacts: tuple[Contact, ...] = ()


def listed(visit: "Visit") -> tuple[Listed, ...]:
    """What was given in the hours that are listed, latest first."""
    since = visit.now_utc - timedelta(hours=visit.page.settings.listed_hours)
    beside = visit.store.phone_log.noted_since(visit.person.person_id, since)
    lines = [(each.taken_at_utc, _named(visit, each), each.change_id) for each in _lately(visit)]
    lines += [(each.at_utc, _beside(visit, each), each.change_id) for each in beside]
    latest_first = sorted(lines, key=lambda line: line[0], reverse=True)
    return tuple(Listed(words, ago_words(visit, at), change_id) for at, words, change_id in latest_first)


def shared(visit: "Visit") -> Shared:
    """The first line and the next minutes."""
    lately = _lately(visit)
    if not lately:
        return Shared(visit.say("nothing_given", hours=visit.page.settings.listed_hours))
    look = lately[0].taken_at_utc + timedelta(minutes=_minutes(visit))
    over = look + timedelta(minutes=visit.page.settings.next_stays_minutes)
    line, ago = _named(visit, lately[0]), ago_words(visit, lately[0].taken_at_utc)
    if visit.now_utc >= over:
        return Shared(line, ago)
    plan, chain = visit.person.care_plan.latest(), _chain(visit, lately)
    return Shared(
        line,
        ago,
        visit.say("look_again_at", at=visit.words.clock(look)),
        _together(visit, chain),
        int(look.timestamp()),
        _steps(visit, chain),
        called(plan.contacts if plan else ()),
    )


def _chain(visit: "Visit", lately: list[Given]) -> list[Given]:
    """What belongs to the latest amount, latest first: each within two looks of the next, the plan's own course."""
    apart, chain = timedelta(minutes=2 * _minutes(visit)), lately[:1]
    for each in lately[1:]:
        if chain[-1].taken_at_utc - each.taken_at_utc > apart:
            break
        chain.append(each)
    return chain


def _together(visit: "Visit", chain: list[Given]) -> str:
    """The sum of several amounts, so that the other adult knows what was swallowed before theirs."""
    if len(chain) < 2:
        return ""
    known = sum(each.grams for each in chain if each.grams is not None)
    code = "together" if all(each.grams is not None for each in chain) else "together_at_least"
    since = visit.words.clock(chain[-1].taken_at_utc)
    return visit.say(code, count=len(chain), since=since, grams=visit.words.grams(known))


def entry_of_another(visit: "Visit", taken_at_utc: datetime) -> str:
    """The entry of another device within the warning's minutes of an instant, in words; "" for none."""
    near = timedelta(minutes=visit.page.settings.warn_minutes)
    for each in _lately(visit):
        if abs(each.taken_at_utc - taken_at_utc) < near and each.device_id != visit.device.device_id:
            return f"{_named(visit, each)}, {ago_words(visit, each.taken_at_utc)}"
    return ""


def _lately(visit: "Visit") -> list[Given]:
    since = visit.now_utc - timedelta(hours=visit.page.settings.listed_hours)
    return visit.store.phone_log.given_since(visit.person.person_id, since)


def _minutes(visit: "Visit") -> int:
    plan = visit.person.care_plan.latest()
    return (plan.look_again_minutes if plan else None) or visit.page.settings.look_again_minutes


def _named(visit: "Visit", given: Given) -> str:
    what = given_words(visit.words, given.amount, given.amount_unit, given.grams, given.source)
    if given.grams is not None and given.amount_unit != "g":
        what += f" ({visit.say('amount.g', n=visit.words.grams(given.grams))})"
    return _told(visit, what, given.taken_at_utc, given.by)


def _beside(visit: "Visit", noted: NotedBeside) -> str:
    what = _beside_named(visit, noted.kind, noted.amount, noted.text)
    return _told(visit, what, noted.at_utc, noted.by)


def beside_words(visit: "Visit", row: "Mapping[str, Any]") -> str:
    """A row of EVENTS as the list names it: food with its grams, or the note's own words."""
    what = _beside_named(visit, row["kind"], row["amount"], row["text"])
    return f"{what}, {clock_words(visit, row['at_utc'])}"


def _beside_named(visit: "Visit", kind: str, amount: float | None, text: str) -> str:
    if kind != EventKind.FOOD:
        return text
    grams = "" if amount is None else visit.words.grams(amount)
    what = visit.say("beside.food_grams", grams=grams) if grams else visit.say("beside.food_line")
    return what + (f" ({text})" if text else "")


def _told(visit: "Visit", what: str, at_utc: datetime, by_whom: str) -> str:
    by = visit.say("by", who=by_whom) if by_whom else ""
    return ", ".join(part for part in (what, clock_words(visit, at_utc), by) if part)


def clock_words(visit: "Visit", at_utc: datetime) -> str:
    """'16:36', and of another day than today's its day too."""
    words = visit.words
    return words.clock(at_utc) if words.local_date(at_utc) == visit.today else words.when(at_utc)


def ago_words(visit: "Visit", at_utc: datetime) -> str:
    minutes = max(0, int((visit.now_utc - at_utc).total_seconds() // 60))
    if minutes < 60:
        return visit.say("minutes_ago", count=minutes)
    return visit.say("hours_ago", count=minutes // 60)


def _steps(visit: "Visit", chain: list[Given]) -> tuple[str, ...]:
    """The care plan's next steps; the guideline's caution where there is no plan.

    A second amount is named after the first alone: after two, or one as large as both, help is the next step.
    """
    words, plan = visit.words, visit.person.care_plan.latest()
    level = words.level(70)
    steps = [words.say("on_card.look", minutes=_minutes(visit))]
    if plan is not None and plan.second_grams is not None and _second_is_next(chain, plan):
        source = next((each for each in visit.person.sources_now() if each.name == chain[0].source), None)
        amount = plan_amount(visit, plan.second_grams, source)
        steps.append(words.say("on_card.second", level=level, amount=amount))
    steps.append(words.say("on_card.get_help", level=level))
    if plan is not None and plan.call_when:
        steps.append(words.say("on_card.call_when", when=plan.call_when))
    return tuple(steps)


def _second_is_next(chain: list[Given], plan: "CarePlan") -> bool:
    given = chain[0].grams if len(chain) == 1 else None
    return given is not None and given <= max((*plan.first_grams, plan.second_grams or 0.0, plan.below_54_grams or 0.0))
