"""Food, and a low that was felt: on a screen of their own, so that measured glucose is never logged as food."""

from typing import Final
from uuid import uuid4

from starlette.responses import Response

from gramrise.web.entries import beside_of, entry_of, taken_at
from gramrise.web.views.last import beside_words
from gramrise.web.visit import LOGS, Door, Visit


def show(visit: Visit) -> Response:
    return visit.shown("food.html", entry=str(uuid4()))


def note(visit: Visit) -> Response:
    """Logs what stands beside the glucose, once."""
    entry = entry_of(visit)
    batch = beside_of(visit, entry, taken_at(visit))
    logged = visit.store.phone_log.log(batch, entry, visit.device, visit.now_utc)
    named = "; ".join(beside_words(visit, row) for row in batch.events.iter_rows(named=True))
    told = visit.say("known") if logged.known else visit.say("logged", what=named)
    if visit.wants_json:
        return visit.data(200, logged=True, known=logged.known, **({} if logged.known else {"said": told}))
    return visit.back("/", told)


DOORS: Final = (
    Door("/food", show, LOGS, idles=False),
    Door("/beside", note, LOGS, ("POST",), idles=False),
)
