"""One request of one device for one person: everything a page is made from."""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from gramrise.domain.person import Person
from gramrise.domain.problems import WrongUse
from gramrise.nightly import LivePanel
from gramrise.report import in_language, screen_words, words_for
from gramrise.store import CLINIC, HELPER, PARENT, SAW, Actor, Device, Store
from gramrise.web.rendering import render
from gramrise.web.settings import WebSettings

if TYPE_CHECKING:
    from gramrise.report import ScreenWords, Words

LOGS: Final = frozenset({HELPER, PARENT})
FAMILY: Final = frozenset({PARENT})
TEAM: Final = frozenset({CLINIC})


@dataclass(frozen=True, slots=True)
class Page:
    """The page of one home. `now_utc` is the one clock."""

    home: Path
    store: Store
    settings: WebSettings
    now_utc: Callable[[], datetime]
    panel: LivePanel = field(default_factory=LivePanel)


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
    devices: Sequence[Device]  # and as what, in the same order
    token: str  # of forms
    now_utc: datetime
    wants_json: bool
    form: dict[str, str] = field(default_factory=dict)
    files: tuple[Upload, ...] = ()
    path: dict[str, Any] = field(default_factory=dict)
    said: str = ""  # what the last step said, shown once

    @property
    def store(self) -> Store:
        """The store, with this device as who acts in it."""
        return self.page.store.acting_as(Actor(f"device {self.device.device_id}", self.device.role))

    @property
    def today(self) -> date:
        """The person's local day."""
        return self.now_utc.astimezone(self.person.zone_now()).date()

    @property
    def screens(self) -> "ScreenWords":
        return screen_words(self.person.language)

    def note_seen(self, what: str) -> None:
        """Notes in the trail that this device looked."""
        self.store.trail.note(self.store.actor, SAW, what, self.now_utc, self.person.person_id)

    def whole_number(self, name: str, *, missing: int | None = None) -> int:
        """A field as a whole number from 0 on. Raises WrongUse; `missing` is for one left empty."""
        text = self.form.get(name, "").strip()
        if not text and missing is not None:
            return missing
        if not text.isascii() or not text.isdigit() or len(text) > 6:
            raise WrongUse(self.say("slip.number"), self.say("mend.whole_number"))
        return int(text)

    def positive_number(self, name: str, *, or_zero: bool = False) -> float:
        """A field as a number above 0, its point or comma as people write it. Raises WrongUse."""
        try:
            number = float(self.form.get(name, "").strip().replace(",", "."))
        except ValueError:
            number = -1.0
        if not isfinite(number) or number < 0 or (number == 0 and not or_zero):
            raise WrongUse(self.say("slip.number"), self.say("mend.number"))
        return number

    @property
    def words(self) -> "Words":
        return words_for(self.person.language, str(self.person.unit), self.person.zone_now().key, self.person.zone)

    @property
    def base(self) -> str:
        """The address of this person's pages: a number of the device's own, no name."""
        return f"/{self.people.index(self.person)}"

    @property
    def whose(self) -> str:
        """Whose pages these are, in a word that tells nobody who: an entry that waits on a phone carries it."""
        return _word_for(self.person)

    @property
    def everybody(self) -> str:
        """The words of all whose pages this device may open."""
        return " ".join(map(_word_for, self.people))

    @property
    def panel(self) -> str:
        """The address of the panel: that of the first person whom this device may see as clinic."""
        return f"/{next(n for n, device in enumerate(self.devices) if device.role == CLINIC)}/panel"

    def say(self, code: str, /, **values: str | int) -> str:
        return self.words.say(f"page.{code}", **values)

    def spoken(self, told: str) -> str:
        """A sentence that was told below the page, in the person's language."""
        return in_language(told, self.person.language)

    def shown(self, template: str, status: int = 200, /, **values: Any) -> Response:
        """A page of this person."""
        told = {
            "visit": self,
            "say": self.say,
            "base": self.base,
            "language": self.words.language,
        }
        return HTMLResponse(render(template, **told, **values), status)

    def back(self, where: str, *told: str) -> Response:
        """After a form: to a page that can be loaded again without sending the form again, which says what was told."""
        response = RedirectResponse(self.base + where, 303)
        if said := " ".join(filter(None, told)):
            response.set_cookie("said", quote(said), max_age=60, httponly=True, samesite="strict")
        return response

    def data(self, status: int = 200, /, **values: Any) -> Response:
        """An answer to the page's own script; what `said` holds is shown on the page that comes next."""
        response = JSONResponse(values, status)
        if said := values.get("said"):
            response.set_cookie("said", quote(str(said)), max_age=60, httponly=True, samesite="strict")
        return response


def _word_for(person: Person) -> str:
    return hashlib.sha256(f"whose {person.person_id}".encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class Door:
    """One address and who may pass. `idles`: closed to a device that was not read on for long."""

    path: str  # below the person's own
    handler: Callable[[Visit], Response]
    roles: frozenset[str]
    methods: tuple[str, ...] = ("GET",)
    idles: bool = True
