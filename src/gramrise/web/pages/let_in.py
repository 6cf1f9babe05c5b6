"""Letting a device in: a link shows a button, and pressing it uses the link up. A preview of the link uses nothing."""

from collections.abc import Callable, Coroutine
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from gramrise.report import words_for
from gramrise.web.guard.limits import Throttle
from gramrise.web.guard.secrets import hashed, new_secret
from gramrise.web.guard.sessions import comes_from_here, session_of, set_session
from gramrise.web.rendering import render
from gramrise.web.visit import Page

Endpoint = Callable[[Request], Coroutine[Any, Any, Response]]


def let_in_routes(page: Page) -> list[Route]:
    """The two steps of letting a device in."""
    tries = Throttle(page.settings.let_in_tries_per_minute, 60)

    def refuse_floods(request: Request) -> None:
        if not tries.allows(request.client.host if request.client else ""):
            raise HTTPException(429)

    async def show(request: Request) -> Response:
        refuse_floods(request)
        link = str(request.path_params["link"])
        still = await run_in_threadpool(page.store.devices.is_open, hashed(link), page.now_utc())
        said = [words_for(language, "mg/dL", "UTC").say for language in ("en", "de")]
        return HTMLResponse(render("let_in.html", link=link, still=still, both=said), 200 if still else 404)

    async def use(request: Request) -> Response:
        refuse_floods(request)
        if not comes_from_here(request):
            raise HTTPException(403)
        session, before = new_secret(), session_of(request)
        known = hashed(before) if before else None
        link = hashed(str(request.path_params["link"]))
        if not await run_in_threadpool(page.store.devices.let_in, link, hashed(session), page.now_utc(), known):
            raise HTTPException(404)
        response = RedirectResponse("/", 303)
        set_session(request, response, session)  # always a new one: one that was put there before is worth nothing
        return response

    return [
        Route("/in/{link}", show, methods=["GET"]),
        Route("/in/{link}", use, methods=["POST"]),
    ]
