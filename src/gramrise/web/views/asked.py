"""A question with its answers in words, and what is asked back before an answer counts."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gramrise.domain.answered_grams import GRAMS_TYPED, grams_typed
from gramrise.domain.problems import WrongUse
from gramrise.intake import load_settings
from gramrise.nightly import alike_to, answer_refused, answers_offered, asked_back, grams_answer
from gramrise.report import WHOLE_LOG, choice_words, question_words

if TYPE_CHECKING:
    from gramrise.domain.questions import Question
    from gramrise.store import StoredQuestion
    from gramrise.web.visit import Visit


@dataclass(frozen=True, slots=True)
class Asked:
    """One question as it is shown. `choices`: (answer, words); no choices: words are typed."""

    question_id: int
    at: int
    of: int
    sentence: str
    choices: tuple[tuple[str, str], ...]
    typed_grams: bool


def asked_now(visit: "Visit", waiting: "Sequence[StoredQuestion]", *, after: int) -> Asked | None:
    """The first question that comes after a number, else the first of all; None where none waits."""
    if not waiting:
        return None
    later = [each for each in waiting if each.question_id > after]
    chosen = (later or waiting)[0]
    offered = answers_offered(chosen.question, visit.person)
    typed = chosen.question.kind != WHOLE_LOG and GRAMS_TYPED in offered
    plain = [each for each in offered if not (typed and each == GRAMS_TYPED)]
    return Asked(
        question_id=chosen.question_id,
        at=waiting.index(chosen) + 1,
        of=len(waiting),
        sentence=question_words(chosen.question, visit.person, visit.screens),
        choices=tuple((each, choice_words(each, chosen.question, visit.person, visit.screens)) for each in plain),
        typed_grams=typed,
    )


def answer_of(visit: "Visit", question: "Question") -> str:
    """The answer of the form. Raises WrongUse for one that was not offered."""
    chosen, offered = visit.form.get("answer", ""), answers_offered(question, visit.person)
    if chosen == GRAMS_TYPED and question.kind != WHOLE_LOG and GRAMS_TYPED in offered:
        if typed := grams_answer(visit.form.get("grams", "")):
            return typed
        raise WrongUse(visit.say("slip.number"), visit.say("mend.number"))
    typed_before = grams_typed(chosen) is not None
    if chosen in offered or (not offered and chosen) or (typed_before and GRAMS_TYPED in offered):
        return chosen
    raise WrongUse(visit.say("slip.answer"), visit.say("mend.answer"))


def alike_waiting(
    visit: "Visit", asked: "StoredQuestion", waiting: "Sequence[StoredQuestion]", chosen: str
) -> "list[StoredQuestion]":
    """The other questions for which an answer may hold, too."""
    return alike_to(asked, waiting, chosen, visit.person, load_settings(visit.page.home))


def sure_asked(visit: "Visit", question: "Question", chosen: str) -> str:
    """Asks once more before a weight that was in doubt counts, or much for one treatment; "" for any other answer.

    Raises WrongUse for more than is likely at once.
    """
    settings = load_settings(visit.page.home)
    refused = answer_refused(question, chosen, visit.person, settings, visit.screens)
    if refused is not None:
        raise refused
    return asked_back(question, chosen, visit.person, settings, visit.screens)
