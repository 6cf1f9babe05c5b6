"""What may be answered to a stored question, for which others the answer holds, and what it makes of a weight."""

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Final

from gramrise.domain.answered_grams import GRAMS_TYPED, MOST_GRAMS_TYPED, grams_of_answer, grams_typed, kg_then
from gramrise.domain.problems import WrongUse
from gramrise.intake import AMOUNT_LARGE, AMOUNT_REFUSED, IntakeSettings, doubt_of_size
from gramrise.place import CONTRADICTS
from gramrise.report import answer_words
from gramrise.store import possible_answers, still_offered

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gramrise.domain.person import Person
    from gramrise.domain.questions import Question
    from gramrise.report import ScreenWords
    from gramrise.store import StoredQuestion

# Half a bottle of unknown size is half of nothing known: no source is offered for it.
BOTTLE: Final = "bottle_size"
BARE: Final = "bare_amount"
COUNT_RIGHT: Final = "count_right"  # of a count that contradicts the log: other pieces came from elsewhere
# What a weighing in doubt becomes by an answer, kg, as the question names it.
KG_BY_ANSWER: Final = {"kilograms": "kg", "pounds": "kg_if_pounds"}


def answers_offered(question: "Question", person: "Person") -> tuple[str, ...]:
    """The answers as they were offered; an amount of no source then known may be one of a source stated since.

    A source that was taken back is offered no more.
    """
    standing = still_offered(question, {source.name for _, told in person.sources.entries for source in told})
    if question.kind in {BOTTLE, AMOUNT_LARGE} or any(":" in answer for answer in standing):
        return standing
    unit = question.about.get("amount_unit")
    since = [source for source in person.sources_now() if not unit or source.unit.value == unit]
    return possible_answers(replace(question, answers=standing), since)


@dataclass(frozen=True, slots=True)
class Size:
    """What an answer makes of an amount, where that is so much that it is doubted. `kg`: body weight of that day."""

    doubt: str  # AMOUNT_REFUSED, AMOUNT_LARGE, or "" for an amount that is not doubted
    grams: float = 0.0
    kg: float | None = None


def size_of(question: "Question", chosen: str, person: "Person", settings: IntakeSettings) -> Size:
    """Whether an answer makes more of an amount than is likely, by the same rule as what is typed.

    That a large amount is meant as it is written was asked already, and is not asked again.
    """
    grams = grams_of_answer(question, chosen, person)
    if grams is None:
        return Size("")
    typed = grams_typed(chosen) is not None
    kg = kg_then(question, person)
    doubt = AMOUNT_REFUSED if typed and grams > MOST_GRAMS_TYPED else doubt_of_size(grams, kg, settings)
    asked_already = doubt == question.kind == AMOUNT_LARGE and not typed
    return Size("" if asked_already else doubt, grams, kg)


def answer_refused(
    question: "Question", chosen: str, person: "Person", settings: IntakeSettings, words: "ScreenWords"
) -> WrongUse | None:
    """Why an answer is not taken: so much at once is not likely. None where it may be."""
    size = size_of(question, chosen, person, settings)
    if size.doubt != AMOUNT_REFUSED:
        return None
    return WrongUse(words.say("ask.so_much", grams=words.amount(round(size.grams, 1))), words.say("ask.so_much_mend"))


def asked_back(
    question: "Question", chosen: str, person: "Person", settings: IntakeSettings, words: "ScreenWords"
) -> str:
    """What is asked once more before an answer counts: a weight that was in doubt, much for one treatment; else ""."""
    meant = _weight_meant(question, chosen)
    if meant is not None:
        kg, on = meant
        return words.say("ask.weight_counts", kg=words.number(kg, 1), on=words.day(on))
    size = size_of(question, chosen, person, settings)
    if size.doubt != AMOUNT_LARGE or size.kg is None:
        return ""
    return words.say("ask.large", grams=words.amount(round(size.grams, 1)), kg=words.amount(round(size.kg, 1)))


def alike_to(
    asked: "StoredQuestion",
    others: "Iterable[StoredQuestion]",
    chosen: str,
    person: "Person",
    settings: IntakeSettings,
) -> "list[StoredQuestion]":
    """The other questions for which an answer may hold, too; where it makes very much of one, that one stays open."""
    alike = [other for other in others if other is not asked and are_alike(asked, other, chosen)]
    return [other for other in alike if not size_of(other.question, chosen, person, settings).doubt]


def are_alike(asked: "StoredQuestion", other: "StoredQuestion", chosen: str) -> bool:
    """Whether an answer may hold for another question, too: the same doubt about another dose of the same log.

    A source holds whatever the amount, and so does it that bare numbers are grams; an amount typed in, and that it was
    none, hold for the very same words alone. What '3 packs' are says nothing of '3 boxes'. That pieces come from
    elsewhere, too, may hold for every count of the same tin.
    """
    one, two = asked.question, other.question
    if one.kind == CONTRADICTS:
        of_one_tin = (one.kind, one.about.get("text")) == (two.kind, two.about.get("text"))
        return chosen == COUNT_RIGHT and of_one_tin
    same = (one.kind, one.answers, one.about.get("amount_unit"), one.about.get("source")) == (
        two.kind, two.answers, two.about.get("amount_unit"), two.about.get("source"),
    )  # fmt: skip
    of_all = holds_for_all(chosen, one.kind)
    word = one.about.get("word") == two.about.get("word")
    return same and word and "amount" in one.about and (of_all or one.about.get("text") == two.about.get("text"))


def holds_for_all(chosen: str, kind: str) -> bool:
    """Whether an answer says what the amounts of a log are, whatever each of them is."""
    of_a_source = ":" in chosen and grams_typed(chosen) is None
    # That one large amount is meant says nothing of another.
    return kind != AMOUNT_LARGE and (of_a_source or (chosen == "g" and kind == BARE))


def _weight_meant(question: "Question", chosen: str) -> tuple[float, date] | None:
    """(kg, from which day) that an answer makes count; None where no weight is in doubt."""
    named = KG_BY_ANSWER.get(chosen)
    if named is None or named not in question.about:
        return None
    return float(str(question.about[named])), date.fromisoformat(str(question.about["on"]))


def alike_words(kind: str, chosen: str, count: int, words: "ScreenWords") -> str:
    """Asks whether an answer holds for so many more questions, too."""
    if kind == BARE and holds_for_all(chosen, kind):
        bare = words.say("answer.grams_alone") if chosen == "g" else answer_words(chosen, kind, words)
        return words.say("ask.every_bare", words=bare, count=count)
    return words.say("ask.same_more", count=count)


def grams_answer(text: str) -> str:
    """'grams:12.5' for a number of grams as typed; "" for what is none. How much it may be: `size_of`."""
    try:
        grams = float(text.lower().strip().removesuffix("g").strip().replace(",", "."))
    except ValueError:
        return ""
    return f"{GRAMS_TYPED}:{grams:g}" if grams > 0 else ""
