"""Amounts in words, and the amounts offered to be touched: the person's own sources, by the card's age rules."""

from collections import Counter
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from gramrise.config.settings import load
from gramrise.domain.dates import whole_years
from gramrise.domain.sources import AmountUnit, Source
from gramrise.report import CardSettings, counted, may_be_swallowed
from gramrise.supplies import past_its_days, supplies_settings

if TYPE_CHECKING:
    from gramrise.report import Words
    from gramrise.web.visit import Visit


@dataclass(frozen=True, slots=True)
class Target:
    """One amount to touch. `value` comes back with the form: unit, amount and the source's name."""

    value: str
    words: str


@dataclass(frozen=True, slots=True)
class OfferedSource:
    """A source with its amounts, smallest first."""

    name: str
    strength: str
    targets: tuple[Target, ...]
    past: str = ""  # that its bottle is to be poured away; what was given from it is logged all the same


def amount_words(words: "Words", amount: float | None, unit: str, grams: float | None) -> str:
    """'3 pieces', '10 mL', '6 g', or that the amount is not known yet.

    Grams of a gel are not grams of glucose: '10 g (4 g glucose)', and where nobody has told, that it is not known.
    """
    if amount is None or not unit:
        return words.say("page.amount.unknown") if grams is None else words.say("page.amount.g", n=words.grams(grams))
    number = words.grams(amount)
    if unit == AmountUnit.PIECE.value:
        return words.say("page.amount.piece", count=1 if amount == 1 else 2, n=number)
    if unit == AmountUnit.ML.value:
        return words.say("page.amount.ml", n=number)
    if grams is None:
        return words.say("page.amount.g_unknown", n=number)
    held = words.grams(grams)
    return words.say("page.amount.g" if held == number else "page.amount.g_holds", n=number, grams=held)


def given_words(words: "Words", amount: float | None, unit: str, grams: float | None, source: str) -> str:
    """The amount with what it was of."""
    told = amount_words(words, amount, unit, grams)
    return words.say("page.amount.of", amount=told, source=source) if source else told


def plan_amount(visit: "Visit", grams: float, source: Source | None) -> str:
    """The care plan's grams, with the pieces or mL of a source where a whole number comes close: '6 g (2 pieces)'."""
    words, rules = visit.words, load("card", CardSettings, visit.page.home)
    told = words.say("page.amount.g", n=words.grams(grams))
    units = counted(grams, source, rules)
    if source is None or not units:
        return told
    return f"{told} ({given_words(words, units, source.unit.value, None, source.name)})"


def offered_sources(visit: "Visit") -> tuple[OfferedSource, ...]:
    """Every source the person may swallow at their age, in the order in which the family stated them."""
    today = visit.now_utc.astimezone(visit.person.zone_now()).date()
    years = whole_years(visit.person.born, today)
    rules = load("card", CardSettings, visit.page.home)
    allowed = [each for each in visit.person.sources_now() if may_be_swallowed(each, years, rules)]
    usual = _usual(visit) if allowed else {}
    return tuple(_offered(visit, source, usual.get(source.name, Counter())) for source in allowed)


def _past(visit: "Visit", source: Source) -> str:
    """That the bottle mixed last is past its days; empty for any other."""
    mixed = [] if source.sealed else visit.store.supplies.batches(visit.person.person_id)
    last = past_its_days(source.name, mixed, visit.person, visit.now_utc, supplies_settings(visit.page.home))
    return "" if last is None else visit.words.say("page.amount.past_days", day=visit.words.day(last))


def _offered(visit: "Visit", source: Source, usual: "Counter[float]") -> OfferedSource:
    rules, words = visit.page.settings, visit.words
    plain = rules.pieces if source.unit is AmountUnit.PIECE else rules.ml
    often = [amount for amount, _ in usual.most_common(rules.most_amounts)]
    wanted = list(dict.fromkeys([*_planned(visit, source), *often, *(float(each) for each in plain)]))
    chosen = _within_plan(visit, source, wanted)[: rules.most_amounts]
    unit = source.unit.value
    targets = tuple(
        Target(f"{unit}:{amount:g}:{source.name}", amount_words(words, amount, unit, None)) for amount in sorted(chosen)
    )
    each = words.number(source.glucose_per_unit_g * (1 if source.unit is AmountUnit.PIECE else 10), 2)
    code = "each_piece" if source.unit is AmountUnit.PIECE else "in_10_ml"
    return OfferedSource(source.name, words.say(f"page.amount.{code}", grams=each), targets, _past(visit, source))


def _planned(visit: "Visit", source: Source) -> list[float]:
    """The care plan's own amounts in whole pieces or mL, the first for a low foremost."""
    plan, rules = visit.person.care_plan.latest(), load("card", CardSettings, visit.page.home)
    stated = (plan.standard_grams, plan.below_54_grams, plan.second_grams) if plan else ()
    units = (counted(grams, source, rules) for grams in stated if grams is not None)
    return [float(each) for each in units if each]


def _within_plan(visit: "Visit", source: Source, amounts: list[float]) -> list[float]:
    """Amounts up to the most that the care plan names for one time, the least of them always: more takes words."""
    plan = visit.person.care_plan.latest()
    stated = (plan.most_grams, plan.standard_grams, plan.below_54_grams, plan.second_grams) if plan else ()
    most = max((grams for grams in stated if grams is not None), default=None)
    if most is None:
        return amounts
    over = 1 + load("card", CardSettings, visit.page.home).most_piece_over  # as on the card, where pieces are large
    fitting = [each for each in amounts if each * source.glucose_per_unit_g <= over * most]
    return fitting or [min(amounts)]


def _usual(visit: "Visit") -> "dict[str, Counter[float]]":
    """How often each whole amount of each source was given lately."""
    since = visit.now_utc - timedelta(days=visit.page.settings.usual_days)
    counted: dict[str, Counter[float]] = {}
    for given in visit.store.phone_log.given_since(visit.person.person_id, since):
        if given.amount is not None and given.amount == round(given.amount) and given.amount_unit != "g":
            counted.setdefault(given.source, Counter())[given.amount] += 1
    return counted
