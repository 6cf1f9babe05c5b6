"""The log: what was given last, what was swallowed now, and taking back what was logged by mistake."""

from typing import Final
from uuid import uuid4

from starlette.responses import Response

from gramrise.domain.problems import WrongUse
from gramrise.store import PARENT
from gramrise.web.entries import NOTICED, batch_of, entry_of, taken_at, waited_seconds
from gramrise.web.views.amounts import offered_sources
from gramrise.web.views.last import entry_of_another, listed, shared
from gramrise.web.views.today import today
from gramrise.web.visit import LOGS, Door, Visit

_KEPT: Final = ("amount", "words", "minutes", "at", "noticed")


def show(visit: Visit) -> Response:
    """The one screen of the log."""
    return visit.shown(
        "log.html",
        shared=shared(visit),
        sources=offered_sources(visit),
        noticed=NOTICED,
        given=listed(visit),
        today=today(visit) if visit.device.role == PARENT else (),
        entry=str(uuid4()),
        now_s=int(visit.now_utc.timestamp()),
    )


def now(visit: Visit) -> Response:
    """The part that all phones share, asked for again and again."""
    return visit.shown("shared.html", shared=shared(visit), now_s=int(visit.now_utc.timestamp()))


def give(visit: Visit) -> Response:
    """Logs an entry once; asks first where another phone has just logged one and somebody is there to answer."""
    entry, at = entry_of(visit), taken_at(visit)
    batch = batch_of(visit, entry, at)
    if batch.doses.height:
        at = batch.doses["taken_at_utc"][0]
    known = visit.store.phone_log.knows(visit.person.person_id, entry)
    answers = waited_seconds(visit) < visit.page.settings.ask_within_seconds
    other = "" if known or not answers or "sure" in visit.form else entry_of_another(visit, at)
    if other:
        if visit.wants_json:
            return visit.data(409, ask=True)
        kept = [(name, visit.form[name]) for name in _KEPT if visit.form.get(name)]
        return visit.shown("sure.html", 409, other=other, entry=entry, kept=kept)
    logged = visit.store.phone_log.log(batch, entry, visit.device, visit.now_utc, apart="sure" in visit.form)
    if visit.wants_json:
        return visit.data(200, logged=True, known=logged.known)
    return visit.back("/", visit.say("known" if logged.known else "asked" if logged.questions else "logged"))


def undo(visit: Visit) -> Response:
    """Takes back one of the entries that are listed, and nothing else."""
    wanted = visit.form.get("change", "")
    if wanted not in {str(each.change_id) for each in listed(visit) if each.change_id is not None}:
        raise WrongUse(visit.say("slip.undo"), visit.say("mend.again"))
    visit.store.undo(int(wanted), visit.now_utc)
    return visit.back("/", visit.say("undone"))


DOORS: Final = (
    Door("/", show, LOGS, idles=False),
    Door("/now", now, LOGS, idles=False),
    Door("/given", give, LOGS, ("POST",), idles=False),
    Door("/undo", undo, LOGS, ("POST",), idles=False),
)
