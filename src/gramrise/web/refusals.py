"""Answers to whom no page is shown, and the choice between persons. In both languages: nobody is known yet."""

from collections.abc import Sequence
from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from gramrise.domain.person import Person
from gramrise.report import words_for
from gramrise.web.rendering import render

_KNOWN: Final = {400, 401, 403, 404, 405, 408, 413, 429, 500}
_IDLE: Final = "idle"


async def as_page(request: Request, refused: Exception) -> Response:
    """Any refusal on the way to a page."""
    assert isinstance(refused, HTTPException)
    return plain(request, refused.status_code, _IDLE if refused.detail == _IDLE else "")


def plain(request: Request, status: int, detail: str = "") -> Response:
    """What is wrong and how to mend it, in English and German."""
    code = detail or str(status if status in _KNOWN else 400)
    told = [words_for(language, "mg/dL", "UTC").say(f"page.refused.{code}") for language in ("en", "de")]
    headers = {"Connection": "close"} if status in {408, 413} else {}
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"problem": " ".join(told)}, status, headers)
    return HTMLResponse(render("refused.html", sentences=told), status, headers)


def choice(people: Sequence[Person], ways: Sequence[str]) -> Response:
    """To the only person's page; else who is meant. `ways`: where each one's pages begin."""
    if len(people) == 1:
        return RedirectResponse(f"/0/{ways[0]}", 303)
    words = words_for(people[0].language, "mg/dL", "UTC")
    named = [(f"/{number}/{ways[number]}", person.name or person.person_id) for number, person in enumerate(people)]
    return HTMLResponse(render("choice.html", say=words.say, language=words.language, people=named))
