"""The walk through open questions in the terminal: one by one, or one answer for all that are alike."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from gramrise.cli import tables
from gramrise.cli.sentences import WHOLE_LOG, answer_words
from gramrise.store import possible_answers

if TYPE_CHECKING:
    from gramrise.domain.batch import Question
    from gramrise.domain.sources import Source
    from gramrise.store import StoredQuestion

# The answer that asks for a number, as the store knows it.
GRAMS_TYPED: Final = "grams"
# Half a bottle of unknown size is half of nothing known: no source is offered for it.
BOTTLE: Final = "bottle_size"
BARE: Final = "bare_amount"
LARGE: Final = "amount_large"  # that one large amount is meant says nothing of another
YES: Final = {"y", "yes", "j", "ja"}


def walk_through(
    waiting: "list[StoredQuestion]",
    answer: "Callable[[list[StoredQuestion], str], None]",
    sources: "tuple[Source, ...]" = (),
) -> int:
    """Puts each question and hands the answers on. Returns how many there were; Enter alone leaves one for later.

    sources  those of the person now: offered where none that fits was stated yet when the question was asked
    """
    left, answered = list(waiting), 0
    while left:
        asked = left.pop(0)
        question = asked.question
        tables.say(f"\n{len(waiting) - len(left)} of {len(waiting)}. {question.sentence}")
        answers = _offered(question, sources)
        for key, offered in enumerate(answers, start=1):
            tables.say(f"  {key}  {_words(offered, question)}")
        chosen = _choice(answers, grams_are_typed=question.kind != WHOLE_LOG)
        if chosen is None:
            continue
        alike = [other for other in left if _alike(asked, other, chosen)]
        together = alike if alike and _agreed(asked, alike, chosen) else []
        answer([asked, *together], chosen)
        answered += 1 + len(together)
        left = [other for other in left if other not in together]
    return answered


def _words(offered: str, question: "Question") -> str:
    """An offered answer in words: the question's own, where it brings some."""
    own = question.about.get("words")
    return str(own[offered]) if isinstance(own, dict) and offered in own else answer_words(offered, question.kind)


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


def _agreed(asked: "StoredQuestion", alike: "list[StoredQuestion]", chosen: str) -> bool:
    kind = asked.question.kind
    if kind == BARE and _holds_for_all(chosen, kind):
        words = "grams" if chosen == "g" else answer_words(chosen, kind)
        print(f"Is every bare number of this log {words} ({len(alike)} more)? y, or Enter to go on one by one.")
    else:
        print(f"The same for {len(alike)} more like it? y, or Enter to go on one by one.")
    try:
        return input("> ").strip().lower() in YES
    except EOFError:
        return False


def _choice(answers: tuple[str, ...], *, grams_are_typed: bool) -> str | None:
    """The answer chosen by number or by its word; None for Enter alone or the end of input."""
    while True:
        try:
            text = input("> ").strip()
        except EOFError:
            return None
        if not text:
            return None
        if text.isdigit() and 1 <= int(text) <= len(answers):
            text = answers[int(text) - 1]
        if grams_are_typed and text == GRAMS_TYPED and text in answers:
            return _grams_typed()
        if not answers or text in answers:
            return text
        print(f"1 to {len(answers)}, or Enter to leave it for later.")


def _grams_typed() -> str | None:
    """'grams:12.5' for a number of grams typed in; None for Enter alone or the end of input."""
    while True:
        try:
            text = input("How many grams of glucose? ").strip().lower().removesuffix("g").strip().replace(",", ".")
        except EOFError:
            return None
        if not text:
            return None
        try:
            if 0 < float(text) < float("inf"):
                return f"{GRAMS_TYPED}:{float(text):g}"
        except ValueError:
            pass
        print("A number of grams such as 12.5, or Enter to leave it for later.")
