"""The page of one home as an ASGI application: every door, and what stands before each."""

import contextlib
import logging
import tempfile
from collections.abc import AsyncIterator, Callable, Coroutine, Iterable
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from gramrise.domain.person import Person
from gramrise.domain.printable import printable
from gramrise.domain.problems import CouldNotRun, GramriseError, place_of
from gramrise.report import in_language
from gramrise.store import CLINIC, Device, Store
from gramrise.web import refusals
from gramrise.web.guard.headers import SafeHeaders
from gramrise.web.guard.limits import BodyLimits, Throttle
from gramrise.web.guard.secrets import form_token, is_form_token
from gramrise.web.guard.sessions import comes_from_here, devices_of, is_idle, session_of, use_is_due
from gramrise.web.pages import DOORS
from gramrise.web.pages.assets import ASSET_ROUTES, authority_route
from gramrise.web.pages.let_in import let_in_routes
from gramrise.web.settings import web_settings
from gramrise.web.visit import Door, Page, Upload, Visit

Endpoint = Callable[[Request], Coroutine[Any, Any, Response]]
_SAID: Final = "said"
# Up to so many persons are loaded one by one: our choice, far more than a family has.
FEW: Final = 5
# The server's own log: codes and places of faults, never an address, a name or a value.
_log = logging.getLogger("gramrise.web")


def page_app(home: Path, store: Store, now_utc: Callable[[], datetime] = lambda: datetime.now(UTC)) -> Starlette:
    """The page of a home. Raises WrongUse for a slip in its settings."""
    page = Page(home, store, web_settings(home), now_utc)
    guard = Guard(page)
    routes = [
        *ASSET_ROUTES,
        authority_route(page),
        *let_in_routes(page),
        Route("/", guard.start, methods=["GET"]),
        *(Route("/{who:int}" + door.path, guard.endpoint(door), methods=list(door.methods)) for door in DOORS),
    ]
    return Starlette(
        routes=routes,
        middleware=[Middleware(SafeHeaders), Middleware(BodyLimits, settings=page.settings)],
        exception_handlers={HTTPException: refusals.as_page, Exception: _fault},
    )


async def _fault(request: Request, fault: Exception) -> Response:
    """A fault of ours: told without a word of what it was about."""
    _log.error("fault %s", place_of(fault))
    return refusals.plain(request, 500)


class Guard:
    """What stands before every door: session, person, role, idleness, floods, and where a form comes from."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.requests = Throttle(page.settings.requests_per_minute, 60)
        self.uploads = Throttle(page.settings.uploads_per_hour, 3600)

    async def start(self, request: Request) -> Response:
        """The first address: the only person's page, or a choice."""
        devices = await run_in_threadpool(devices_of, self.page.store, session_of(request))
        if not devices:
            return refusals.plain(request, 401)
        if all(device.role == CLINIC for device in devices):
            return RedirectResponse("/0/panel", 303)
        people = await run_in_threadpool(self._people, devices)
        ways = ["panel" if device.role == CLINIC else "" for device in devices]
        return refusals.choice(people, ways)

    def endpoint(self, door: Door) -> Endpoint:
        async def through(request: Request) -> Response:
            visit = await self._visit(request, door)
            if request.method != "POST":
                return _forget_said(visit, await self._answer(door, visit))
            async with self._form(request, visit) as filled:
                return await self._answer(door, filled)

        return through

    async def _answer(self, door: Door, visit: Visit) -> Response:
        try:
            return await run_in_threadpool(door.handler, visit)
        except GramriseError as trouble:
            status = 503 if isinstance(trouble, CouldNotRun) else 422
            told = in_language(str(trouble), visit.person.language)
            if status == 503 and "POST" in door.methods:  # what counts at night comes first, then why
                told = f"{visit.say('not_kept')}\n{told}"
            if visit.wants_json:
                return visit.data(status, problem=told)
            return visit.shown("problem.html", status, sentences=told.split("\n"))

    async def _visit(self, request: Request, door: Door) -> Visit:
        """The visit, or an HTTPException: 401 no session, 404 nobody of that number, 403 not for this device."""
        page, session = self.page, session_of(request)
        client = request.client.host if request.client else ""
        if not self.requests.allows(session or client):
            raise HTTPException(429)
        devices = await run_in_threadpool(devices_of, page.store, session)
        if not devices:
            raise HTTPException(401)
        who = int(request.path_params["who"])
        if who >= len(devices):
            raise HTTPException(404)
        device, now = devices[who], page.now_utc()
        if device.role not in door.roles:
            raise HTTPException(403)
        if door.idles and is_idle(device, now, page.settings):
            raise HTTPException(403, "idle")
        if door.idles and use_is_due(device, now, page.settings):
            await run_in_threadpool(page.store.devices.note_read, device.device_id, now)
        people = await run_in_threadpool(self._people, devices)
        return Visit(
            page=page,
            person=people[who],
            device=device,
            people=people,
            devices=devices,
            token=form_token(session),
            now_utc=now,
            wants_json="application/json" in request.headers.get("accept", ""),
            path=dict(request.path_params),
            said=unquote(request.cookies.get(_SAID, ""))[:2000],
        )

    def _people(self, devices: Iterable[Device]) -> list[Person]:
        """Who is behind the devices; a phone of one family loads no other."""
        wanted = [device.person_id for device in devices]
        if len(wanted) <= FEW:
            return [self.page.store.person(each) for each in wanted]
        known = {person.person_id: person for person in self.page.store.persons()}
        return [known[each] for each in wanted]

    @asynccontextmanager
    async def _form(self, request: Request, visit: Visit) -> AsyncIterator[Visit]:
        """The visit with its form. Raises HTTPException 403 for a form that is none of ours."""
        if not comes_from_here(request):
            raise HTTPException(403)
        with contextlib.ExitStack() as stack:
            try:
                form = await request.form(max_files=20, max_fields=200)
            except HTTPException as refused:
                raise HTTPException(refused.status_code) from None
            except ClientDisconnect:  # a phone that left the network: no fault of ours, and nobody hears the answer
                raise HTTPException(400) from None
            fields = {name: value for name, value in form.multi_items() if isinstance(value, str)}
            if not is_form_token(session_of(request), fields.get("token", "")):
                raise HTTPException(403)
            sent = [value for _, value in form.multi_items() if isinstance(value, UploadFile) and value.filename]
            if sent and not self.uploads.allows(session_of(request)):
                raise HTTPException(429)
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="gramrise-"))) if sent else Path()
            files = tuple([await _kept(upload, folder, number) for number, upload in enumerate(sent)])
            yield replace(visit, form=fields, files=files)


async def _kept(upload: UploadFile, folder: Path, number: int) -> Upload:
    """An uploaded file under its own last name, in a folder of its own: nothing in a name leads elsewhere."""
    name = printable(upload.filename or "").replace("\\", "/").split("/")[-1].replace("\0", "")[-100:] or "file"
    if name.startswith("."):
        name = f"file{name}"
    (folder / str(number)).mkdir()
    path = folder / str(number) / name

    def write() -> None:
        with path.open("wb") as out:
            while part := upload.file.read(1 << 20):
                out.write(part)

    await run_in_threadpool(write)
    return Upload(name, path)


def _forget_said(visit: Visit, response: Response) -> Response:
    if visit.said and response.media_type == "text/html":
        response.delete_cookie(_SAID)
    return response
