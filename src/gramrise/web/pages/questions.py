"""Questions only the family can answer, one at a time, and one answer for all that are alike."""

from typing import Final

from starlette.responses import Response

from gramrise.domain.problems import WrongUse
from gramrise.nightly import alike_words, ask_about_unlogged, current_findings
from gramrise.store import StoredQuestion
from gramrise.web.views.asked import alike_waiting, answer_of, asked_now, sure_asked
from gramrise.web.views.found import holding, turned
from gramrise.web.visit import FAMILY, Door, Visit


def show(visit: Visit) -> Response:
    """The first question after the one last put off."""
    current_findings(visit.store, visit.person.person_id, visit.now_utc, visit.page.home, only=())
    ask_about_unlogged(visit.store, visit.person, visit.now_utc, visit.page.home)
    waiting = visit.store.questions(visit.person.person_id)
    return visit.shown("questions.html", asked=asked_now(visit, waiting, after=0))


def later(visit: Visit) -> Response:
    """The next one; the one put off waits on."""
    waiting = visit.store.questions(visit.person.person_id)
    return visit.shown("questions.html", asked=asked_now(visit, waiting, after=visit.whole_number("question")))


def answer(visit: Visit) -> Response:
    """Keeps an answer; first it asks about a weight in doubt, much at once, and whether the answer holds for more."""
    waiting = visit.store.questions(visit.person.person_id)
    asked = _asked(visit, waiting)
    chosen = answer_of(visit, asked.question)
    told = sure_asked(visit, asked.question, chosen)
    if told and "sure" not in visit.form:
        return visit.shown("sure_answer.html", told=told, asked=asked, chosen=chosen, alike=())
    alike = alike_waiting(visit, asked, waiting, chosen)
    if alike and "for_all" not in visit.form:
        told = alike_words(asked.question.kind, chosen, len(alike), visit.screens)
        return visit.shown("sure_answer.html", told=told, asked=asked, chosen=chosen, alike=alike)
    together = alike if visit.form.get("for_all") == "yes" else []
    before = holding(visit)
    for each in (asked, *together):  # in one instant: they are taken back together, too
        visit.store.answer(each.question_id, chosen, visit.device.label or visit.device.role, visit.now_utc)
    return visit.back("/questions", turned(visit, before))


def _asked(visit: Visit, waiting: list[StoredQuestion]) -> StoredQuestion:
    wanted = visit.whole_number("question")
    for each in waiting:
        if each.question_id == wanted:
            return each
    raise WrongUse(visit.say("slip.question"), visit.say("mend.again"))


DOORS: Final = (
    Door("/questions", show, FAMILY),
    Door("/questions", answer, FAMILY, ("POST",)),
    Door("/questions/later", later, FAMILY, ("POST",)),
)
