"""The walk through open questions in the terminal: one by one, or one answer for all that are alike."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from gramrise.cli import tables
from gramrise.nightly import GRAMS_TYPED, alike_words, answers_offered, are_alike, grams_answer, weight_meant
from gramrise.report import WHOLE_LOG, offered_words, question_words

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.domain.questions import Question
    from gramrise.report import ScreenWords
    from gramrise.store import StoredQuestion


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
        answers = answers_offered(question, person)
        for key, offered in enumerate(answers, start=1):
            tables.say(f"  {key}  {offered_words(offered, question, person, words)}")
        chosen = _choice(answers, words, grams_are_typed=question.kind != WHOLE_LOG)
        if chosen is None or not _weight_confirmed(question, chosen, words):
            continue
        alike = [other for other in left if are_alike(asked, other, chosen)]
        together = alike if alike and _agreed(asked, alike, chosen, words) else []
        answer([asked, *together], chosen)
        answered += 1 + len(together)
        left = [other for other in left if other not in together]
    return answered


def _weight_confirmed(question: "Question", chosen: str, words: "ScreenWords") -> bool:
    """A weight that was in doubt is asked about once more before it counts: a wrong one doubles or halves amounts."""
    meant = weight_meant(question, chosen)
    if meant is None:
        return True
    kg, on = meant
    tables.say(words.say("ask.weight_counts", kg=words.number(kg, 1), on=words.day(on)))
    return _yes(words)


def _agreed(asked: "StoredQuestion", alike: "list[StoredQuestion]", chosen: str, words: "ScreenWords") -> bool:
    tables.say(alike_words(asked.question.kind, chosen, len(alike), words))
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
        if answer := grams_answer(text):
            return answer
        tables.say(words.say("ask.a_number"))
    return None


def _typed(prompt: str) -> str | None:
    """One line as typed; None at the end of input."""
    try:
        return input(prompt).strip()
    except EOFError:
        return None
