"""Bringing an export: files are taken in as `gramrise import` does, with the same words for what waits."""

from typing import Final

from starlette.responses import Response

from gramrise.domain.problems import WrongUse
from gramrise.web.views.brought import brought
from gramrise.web.visit import FAMILY, Door, Visit


def show(visit: Visit) -> Response:
    return visit.shown("upload.html", files=())


def bring(visit: Visit) -> Response:
    """Takes the files in, each on its own, and says what came of each."""
    if not visit.files:
        raise WrongUse(visit.say("slip.file"), visit.say("mend.file"))
    replace = visit.form.get("replace") == "yes"
    return visit.shown("upload.html", files=[brought(visit, each, replace=replace) for each in visit.files])


DOORS: Final = (
    Door("/upload", show, FAMILY),
    Door("/upload", bring, FAMILY, ("POST",)),
)
