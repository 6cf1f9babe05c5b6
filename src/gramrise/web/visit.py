"""One request of one device for one person: everything a page is made from."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from gramrise.domain.person import Person
from gramrise.report import words_for
from gramrise.store import HELPER, PARENT, Device, Store
from gramrise.web.rendering import render
from gramrise.web.settings import WebSettings

if TYPE_CHECKING:
    from gramrise.report import Words

LOGS: Final = frozenset({HELPER, PARENT})


@dataclass(frozen=True, slots=True)
class Page:
    """The page of one home. `now_utc` is the one clock."""

    home: Path
    store: Store
    settings: WebSettings
    now_utc: Callable[[], datetime]


@dataclass(frozen=True, slots=True)
class Upload:
    """A file that was dropped into a form: its name, and where its bytes lie while the request lasts."""

    name: str
    path: Path


@dataclass(frozen=True, slots=True)
class Visit:
    """A request that was let through. `form` holds fields of a POST, `path` the parts of the address."""

    page: Page
    person: Person
    device: Device
    people: Sequence[Person]  # everybody this device was let in for
    token: str  # of forms
    now_utc: datetime
    wants_json: bool
    form: dict[str, str] = field(default_factory=dict)
    files: tuple[Upload, ...] = ()
    path: dict[str, Any] = field(default_factory=dict)
    said: str = ""  # what the last step said, shown once

    @property
    def store(self) -> Store:
        return self.page.store

    @property
    def words(self) -> "Words":
        return words_for(self.person.language, str(self.person.unit), self.person.zone_now().key)

    @property
    def base(self) -> str:
        """The address of this person's pages: a number of the device's own, no name."""
        return f"/{self.people.index(self.person)}"

    def say(self, code: str, /, **values: str | int) -> str:
        return self.words.say(f"page.{code}", **values)

    def shown(self, template: str, status: int = 200, /, **values: Any) -> Response:
        """A page of this person."""
        told = {
            "visit": self,
            "say": self.say,
            "base": self.base,
            "language": self.words.language,
        }
        return HTMLResponse(render(template, **told, **values), status)

    def back(self, where: str = "/", said: str = "") -> Response:
        """After a form: to a page that can be loaded again without sending the form again."""
        response = RedirectResponse(self.base + where, 303)
        if said:
            response.set_cookie("said", quote(said), max_age=60, httponly=True, samesite="strict")
        return response

    def data(self, status: int = 200, /, **values: Any) -> Response:
        return JSONResponse(values, status)


@dataclass(frozen=True, slots=True)
class Door:
    """One address and who may pass. `idles`: closed to a device that was not read on for long."""

    path: str  # below the person's own
    handler: Callable[[Visit], Response]
    roles: frozenset[str]
    methods: tuple[str, ...] = ("GET",)
    idles: bool = True
