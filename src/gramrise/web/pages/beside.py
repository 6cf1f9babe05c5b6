"""Food, and a low that was felt: on a screen of their own, so that measured glucose is never logged as food."""

from typing import Final
from uuid import uuid4

from starlette.responses import Response

from gramrise.web.entries import beside_of, entry_of, taken_at
from gramrise.web.handed_over import answered_before, told_logged
from gramrise.web.views.last import beside_words
from gramrise.web.visit import LOGS, Door, Visit


def show(visit: Visit) -> Response:
    return visit.shown("food.html", entry=str(uuid4()))


def note(visit: Visit) -> Response:
    """Logs what stands beside the glucose, once."""
    entry = entry_of(visit)
    if (answer := answered_before(visit, entry, "/beside")) is not None:
        return answer
    batch = beside_of(visit, entry, taken_at(visit))
    logged = visit.store.phone_log.log(batch, entry, visit.device, visit.now_utc)
    return told_logged(visit, logged, "; ".join(beside_words(visit, row) for row in batch.events.iter_rows(named=True)))


DOORS: Final = (
    Door("/food", show, LOGS, idles=False),
    Door("/beside", note, LOGS, ("POST",), idles=False),
)
