"""Food, and a low that was felt: on a screen of their own, so that measured glucose is never logged as food."""

from typing import Final
from uuid import uuid4

from starlette.responses import Response

from gramrise.web.entries import beside_of, entry_of, taken_at
from gramrise.web.visit import LOGS, Door, Visit


def show(visit: Visit) -> Response:
    return visit.shown("food.html", entry=str(uuid4()))


def note(visit: Visit) -> Response:
    """Logs what stands beside the glucose, once."""
    entry = entry_of(visit)
    batch = beside_of(visit, entry, taken_at(visit))
    logged = visit.store.phone_log.log(batch, entry, visit.device, visit.now_utc)
    if visit.wants_json:
        return visit.data(200, logged=True, known=logged.known)
    return visit.back("/", visit.say("known" if logged.known else "logged"))


DOORS: Final = (
    Door("/food", show, LOGS, idles=False),
    Door("/beside", note, LOGS, ("POST",), idles=False),
)
