"""The walk through open questions in the terminal: one by one, or one answer for all that are alike."""

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Final

from gramrise.cli import tables
from gramrise.cli.question_words import WHOLE_LOG, answer_words, offered_words, question_words
from gramrise.store import possible_answers

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.domain.questions import Question
    from gramrise.domain.sources import Source
    from gramrise.report import ScreenWords
    from gramrise.store import StoredQuestion

# The answer that asks for a number, as the store knows it.
GRAMS_TYPED: Final = "grams"
# Half a bottle of unknown size is half of nothing known: no source is offered for it.
BOTTLE: Final = "bottle_size"
BARE: Final = "bare_amount"
LARGE: Final = "amount_large"  # that one large amount is meant says nothing of another
# What a weighing in doubt becomes by an answer, kg, as the question names it.
KG_BY_ANSWER: Final = {"kilograms": "kg", "pounds": "kg_if_pounds"}


def walk_through(
    waiting: "list[StoredQuestion]",
    answer: "Callable[[list[StoredQuestion], str], None]",
    person: "Person",
    words: "ScreenWords",
) -> int:
    """Puts each question and hands the answers on. Returns how many there were; Enter alone leaves one for later.

    person  whose sources are offered now, also where none that fits was stated yet when the question was asked
    """
    left, answered = list(waiting), 0
    while left:
        asked = left.pop(0)
        question = asked.question
        sentence = question_words(question, person, words)
        at = {"at": len(waiting) - len(left), "of": len(waiting)}
        tables.say("\n" + words.say("ask.numbered", sentence=sentence, **at))
        answers = _offered(question, person.sources_now())
        for key, offered in enumerate(answers, start=1):
            tables.say(f"  {key}  {offered_words(offered, question, words)}")
        chosen = _choice(answers, words, grams_are_typed=question.kind != WHOLE_LOG)
        if chosen is None or not _weight_confirmed(question, chosen, words):
            continue
        alike = [other for other in left if _alike(asked, other, chosen)]
        together = alike if alike and _agreed(asked, alike, chosen, words) else []
        answer([asked, *together], chosen)
        answered += 1 + len(together)
        left = [other for other in left if other not in together]
    return answered


def _weight_confirmed(question: "Question", chosen: str, words: "ScreenWords") -> bool:
    """A weight that was in doubt is asked about once more before it counts: a wrong one doubles or halves amounts."""
    named = KG_BY_ANSWER.get(chosen)
    if named is None or named not in question.about:
        return True
    kg, on = float(str(question.about[named])), date.fromisoformat(str(question.about["on"]))
    tables.say(words.say("ask.weight_counts", kg=words.number(kg, 1), on=words.day(on)))
    return _yes(words)


def _offered(question: "Question", sources: "tuple[Source, ...]") -> tuple[str, ...]:
    """The answers as they were offered; an amount of no source then known may be one of a source stated since."""
    if question.kind in {BOTTLE, LARGE} or any(":" in answer for answer in question.answers):
        return question.answers
    unit = question.about.get("amount_unit")
    return possible_answers(question, [source for source in sources if not unit or source.unit.value == unit])


def _alike(asked: "StoredQuestion", other: "StoredQuestion", chosen: str) -> bool:
    """Whether an answer may hold for another question, too: the same doubt about another dose of the same log.

    A source holds whatever the amount, and so does it that bare numbers are grams; an amount typed in, and that it was
    none, hold for the very same words alone.
    """
    one, two = asked.question, other.question
    same = (one.kind, one.answers, one.about.get("amount_unit"), one.about.get("source")) == (
        two.kind, two.answers, two.about.get("amount_unit"), two.about.get("source"),
    )  # fmt: skip
    of_all = _holds_for_all(chosen, one.kind)
    return same and "amount" in one.about and (of_all or one.about.get("text") == two.about.get("text"))


def _holds_for_all(chosen: str, kind: str) -> bool:
    """Whether an answer says what the amounts of a log are, whatever each of them is."""
    of_a_source = ":" in chosen and not chosen.startswith(GRAMS_TYPED)
    return kind != LARGE and (of_a_source or (chosen == "g" and kind == BARE))


def _agreed(asked: "StoredQuestion", alike: "list[StoredQuestion]", chosen: str, words: "ScreenWords") -> bool:
    kind = asked.question.kind
    if kind == BARE and _holds_for_all(chosen, kind):
        bare = words.say("answer.grams_alone") if chosen == "g" else answer_words(chosen, kind, words)
        tables.say(words.say("ask.every_bare", words=bare, count=len(alike)))
    else:
        tables.say(words.say("ask.same_more", count=len(alike)))
    return _yes(words)


def _yes(words: "ScreenWords") -> bool:
    return (_typed("> ") or "").lower() in words.say("ask.yes").split()


def _choice(answers: tuple[str, ...], words: "ScreenWords", *, grams_are_typed: bool) -> str | None:
    """The answer chosen by number or by its word; None for Enter alone or the end of input."""
    while text := _typed("> "):
        if text.isdigit() and 1 <= int(text) <= len(answers):
            text = answers[int(text) - 1]
        if grams_are_typed and text == GRAMS_TYPED and text in answers:
            return _grams_typed(words)
        if not answers or text in answers:
            return text
        tables.say(words.say("ask.choose", last=len(answers)))
    return None


def _grams_typed(words: "ScreenWords") -> str | None:
    """'grams:12.5' for a number of grams typed in; None for Enter alone or the end of input."""
    while text := _typed(f"{words.say('ask.how_many')} "):
        try:
            grams = float(text.lower().removesuffix("g").strip().replace(",", "."))
        except ValueError:
            grams = 0.0
        if 0 < grams < float("inf"):
            return f"{GRAMS_TYPED}:{grams:g}"
        tables.say(words.say("ask.a_number"))
    return None


def _typed(prompt: str) -> str | None:
    """One line as typed; None at the end of input."""
    try:
        return input(prompt).strip()
    except EOFError:
        return None
