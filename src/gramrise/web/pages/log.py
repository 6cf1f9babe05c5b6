"""The log: what was given last, what was swallowed now, and taking back what was logged by mistake."""

from typing import Final
from uuid import uuid4

from starlette.responses import Response

from gramrise.domain.batch import Batch
from gramrise.domain.problems import WrongUse
from gramrise.store import PARENT
from gramrise.web.entries import NOTICED, batch_of, entry_of, somebody_is_there, taken_at
from gramrise.web.handed_over import answered_before, kept, told_logged
from gramrise.web.views.amounts import given_words, offered_sources
from gramrise.web.views.found import holding, turned
from gramrise.web.views.last import beside_words, clock_words, entry_of_another, listed, shared
from gramrise.web.views.today import today
from gramrise.web.visit import LOGS, Door, Visit


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
    """What all phones show alike, asked for again and again: the first line, the next minutes, and the list."""
    return visit.shown("now.html", shared=shared(visit), given=listed(visit), now_s=int(visit.now_utc.timestamp()))


def give(visit: Visit) -> Response:
    """Logs an entry once; asks first where another phone has just logged one and somebody is there to answer."""
    entry = entry_of(visit)
    if (answer := answered_before(visit, entry, "/given")) is not None:
        return answer
    at = taken_at(visit)
    batch = batch_of(visit, entry, at)
    if batch.doses.height:
        at = batch.doses["taken_at_utc"][0]
    asks = somebody_is_there(visit) and "sure" not in visit.form
    other = entry_of_another(visit, at) if asks else ""
    if other:
        if visit.wants_json:
            return visit.data(409, ask=True)
        return visit.shown("sure.html", 409, other=other, yours=_what(visit, batch), entry=entry, kept=kept(visit))
    logged = visit.store.phone_log.log(batch, entry, visit.device, visit.now_utc, apart="sure" in visit.form)
    return told_logged(visit, logged, _what(visit, batch))


def _what(visit: Visit, batch: Batch) -> str:
    """What a batch brings, in the words of the list."""
    given = [
        f"{given_words(visit.words, row['amount'], row['amount_unit'], row['grams'], row['source'])}, "
        f"{clock_words(visit, row['taken_at_utc'])}"
        for row in batch.doses.iter_rows(named=True)
    ]
    return "; ".join(given + [beside_words(visit, row) for row in batch.events.iter_rows(named=True)])


def undo(visit: Visit) -> Response:
    """Takes back one of the entries that are listed, and nothing else."""
    wanted = visit.form.get("change", "")
    found = {str(each.change_id): each.words for each in listed(visit) if each.change_id is not None}
    if wanted not in found:
        raise WrongUse(visit.say("slip.undo"), visit.say("mend.again"))
    before = holding(visit)
    change = visit.store.undo(int(wanted), visit.now_utc)
    also = visit.say("stands_by") if change.stands_by else ""
    return visit.back("/", visit.say("undone", what=found[wanted]), also, turned(visit, before))


DOORS: Final = (
    Door("/", show, LOGS, idles=False),
    Door("/now", now, LOGS, idles=False),
    Door("/given", give, LOGS, ("POST",), idles=False),
    Door("/undo", undo, LOGS, ("POST",), idles=False),
)
