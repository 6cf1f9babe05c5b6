"""The walk through open questions in the terminal: one by one, or one answer for all that are alike."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from gramrise.cli import tables
from gramrise.cli.typed_lines import line_typed
from gramrise.domain.answered_grams import GRAMS_TYPED
from gramrise.nightly import alike_to, alike_words, answer_refused, answers_offered, asked_back, grams_answer
from gramrise.report import WHOLE_LOG, choice_words, question_words

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.domain.questions import Question
    from gramrise.intake import IntakeSettings
    from gramrise.report import ScreenWords
    from gramrise.store import StoredQuestion


def walk_through(
    waiting: "list[StoredQuestion]",
    answer: "Callable[[list[StoredQuestion], str], None]",
    person: "Person",
    words: "ScreenWords",
    settings: "IntakeSettings",
) -> int:
    """Puts each question and hands the answers on. Returns how many there were; Enter alone leaves one for later.

    person    whose sources are offered now, also where none that fits was stated yet when the question was asked
    settings  say how much at once is likely
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
            tables.say(f"  {key}  {choice_words(offered, question, person, words)}")

        def refused(chosen: str, question: "Question" = question) -> str:
            why = answer_refused(question, chosen, person, settings, words)
            return "" if why is None else f"{why.what}; {why.mend}. {words.say('ask.or_enter')}"

        chosen = _choice(answers, words, refused, grams_are_typed=question.kind != WHOLE_LOG)
        if chosen is None:
            continue
        sure = asked_back(question, chosen, person, settings, words)
        if sure and not _agreed(f"{sure} {words.say('ask.sure')}", words):
            continue
        alike = alike_to(asked, left, chosen, person, settings)
        together = alike if alike and _holds_for_all(question.kind, chosen, len(alike), words) else []
        answer([asked, *together], chosen)
        answered += 1 + len(together)
        left = [other for other in left if other not in together]
    return answered


def _holds_for_all(kind: str, chosen: str, count: int, words: "ScreenWords") -> bool:
    return _agreed(f"{alike_words(kind, chosen, count, words)} {words.say('ask.sure_of_all')}", words)


def _agreed(asked: str, words: "ScreenWords") -> bool:
    tables.say(asked)
    return (_typed("> ") or "").lower() in words.say("ask.yes").split()


def _choice(
    answers: tuple[str, ...], words: "ScreenWords", refused: Callable[[str], str], *, grams_are_typed: bool
) -> str | None:
    """The answer chosen by number or by its word; None for Enter alone or the end of input.

    refused  why an answer is not taken; "" where it may be
    """
    while text := _typed("> "):
        if text.isdigit() and 1 <= int(text) <= len(answers):
            text = answers[int(text) - 1]
        if grams_are_typed and text == GRAMS_TYPED and text in answers:
            return _grams_typed(words, refused)
        if answers and text not in answers:
            tables.say(words.say("ask.choose", last=len(answers)))
        elif why := refused(text):
            tables.say(why)
        else:
            return text
    return None


def _grams_typed(words: "ScreenWords", refused: Callable[[str], str]) -> str | None:
    """'grams:12.5' for a number of grams typed in; None for Enter alone or the end of input."""
    while text := _typed(f"{words.say('ask.how_many')} "):
        answer = grams_answer(text)
        if answer and not (why := refused(answer)):
            return answer
        tables.say(why if answer else words.say("ask.a_number"))
    return None


def _typed(prompt: str) -> str | None:
    """One line as typed; None at the end of input."""
    try:
        return line_typed(prompt)
    except EOFError:
        return None
