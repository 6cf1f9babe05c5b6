"""The grams of glucose that an answer would make of an amount in doubt."""

from datetime import datetime
from typing import Final

from gramrise.domain.person import Person, zone_on
from gramrise.domain.questions import Question
from gramrise.domain.sources import AmountUnit, Source

# The offered answer to which a number is added: "grams:12.5".
GRAMS_TYPED: Final = "grams"
# Our choice, as for one dose of a file: more in one treatment is a slip of the finger, 120 for 12.
MOST_GRAMS_TYPED: Final = 60.0


def grams_typed(answer: str) -> float | None:
    """The grams of an answer like "grams:12.5", above zero; else None. How many may count: `MOST_GRAMS_TYPED`."""
    word, _, number = answer.partition(":")
    try:
        grams = float(number)
    except ValueError:
        return None
    return grams if word == GRAMS_TYPED and grams > 0 else None


def grams_of_answer(question: Question, answer: str, person: Person) -> float | None:
    """Grams of anhydrous glucose; None where the answer makes none of it, or nobody knows how many.

    answer  'piece:NAME', 'mL:NAME', 'g' (the number is grams) or 'grams:12.5'; any other makes none
    """
    typed = grams_typed(answer)
    if typed is not None:
        return typed
    amount, word, name = question.about.get("amount"), *answer.partition(":")[::2]
    if not isinstance(amount, int | float) or "ordinal" not in question.about:
        return None
    if answer == AmountUnit.GRAM:
        return float(amount)
    source = _as_then(name, _taken_at(question), person) if name else None
    if source is None or word not in {AmountUnit.GRAM, source.unit}:
        return None
    return source.grams(float(amount), AmountUnit(word))


def kg_then(question: Question, person: Person) -> float | None:
    """Body weight on the day of the amount that a question is about, kg; None where none is known."""
    at_utc = _taken_at(question)
    return person.weights_kg.on_or_first(at_utc.astimezone(zone_on(person.zone, at_utc)).date())


def _taken_at(question: Question) -> datetime:
    return datetime.fromisoformat(str(question.about["taken_at_utc"]))


def _as_then(name: str, at_utc: datetime, person: Person) -> Source | None:
    """A source with its strength of that day; the first strength told holds for the days before it."""
    day = at_utc.astimezone(zone_on(person.zone, at_utc)).date()
    told = [(since, source) for since, sources in person.sources.entries for source in sources if source.name == name]
    held = [source for since, source in told if since <= day]
    return held[-1] if held else (told[0][1] if told else None)
