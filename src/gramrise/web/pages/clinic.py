"""The clinic review, live: the same pages as in the folder, and the sign-off beside them."""

from collections.abc import Callable
from datetime import date
from typing import Final

from starlette.responses import HTMLResponse, Response

from gramrise.domain.problems import WrongUse
from gramrise.intake import local_date
from gramrise.nightly import (
    SignOff,
    clinic_language,
    references_with_ends,
    review_of,
    review_rules,
    sign_reference,
)
from gramrise.report import (
    PageKind,
    Place,
    page_html,
    pairings_page,
    panel_page,
    person_page,
    visit_page,
)
from gramrise.store import CLINIC
from gramrise.web.guard.headers import REVIEW_POLICY
from gramrise.web.views.signed import signed_lines
from gramrise.web.visit import TEAM, Door, Visit

_PAGES: Final = {PageKind.PERSON: person_page, PageKind.PAIRINGS: pairings_page, PageKind.VISIT: visit_page}
STYLE: Final = "/review.css"


def panel(visit: Visit) -> Response:
    """One line a person whom this device may see as clinic, danger first."""
    seen = [person for person, device in zip(visit.people, visit.devices, strict=True) if device.role == CLINIC]
    visit.note_seen("panel")
    made = visit.page.panel.panel(visit.store, seen, visit.now_utc, visit.page.home, clinic_language(seen))
    return _paper(page_html(panel_page(made), _addresses(visit), STYLE))


def _shows(kind: PageKind) -> Callable[[Visit], Response]:
    def show(visit: Visit) -> Response:
        visit.note_seen(f"review {kind}")
        home, language = visit.page.home, clinic_language(visit.people)
        review = review_of(
            visit.store, visit.person.person_id, visit.now_utc, home, language, review_rules(home)
        )  # fmt: skip
        page = _PAGES[kind](review, with_panel=True)
        ways = ((visit.say("signing.way"), f"{visit.base}/sign"),)
        return _paper(page_html(page, _addresses(visit), STYLE, ways))

    return show


def _addresses(visit: Visit) -> Callable[[Place], str]:
    """Addresses of places: numbers of the device's own, no name."""
    numbers = {person.person_id: number for number, person in enumerate(visit.people)}

    def address(place: Place) -> str:
        if place.kind is PageKind.PANEL:
            return visit.panel
        return f"/{numbers[place.person_id]}/{place.kind}" + (f"#{place.part}" if place.part else "")

    return address


def _paper(page: str) -> HTMLResponse:
    return HTMLResponse(page, headers={"Content-Security-Policy": REVIEW_POLICY})


def signing(visit: Visit) -> Response:
    """The form of a sign-off, and all that were signed."""
    visit.note_seen("sign-offs")
    found = references_with_ends(visit.store, visit.person, visit.now_utc)
    return visit.shown("sign.html", signed=signed_lines(visit, found), today=visit.today.isoformat())


def sign(visit: Visit) -> Response:
    """Records a sign-off."""
    said = SignOff(
        by=_text(visit, "by"),
        role=_text(visit, "role"),
        accepted=visit.form.get("verdict") == "accepted",
        as_of=_day(visit, "as_of"),
        valid_until=_day(visit, "valid_until"),
        settings=_text(visit, "settings"),
        told=_text(visit, "told"),
        note=_text(visit, "note"),
    )
    if not said.by:
        raise WrongUse(visit.say("slip.by"), visit.say("mend.by"))
    if visit.form.get("verdict") not in {"accepted", "seen_not_accepted"}:
        raise WrongUse(visit.say("slip.verdict"), visit.say("mend.verdict"))
    made = sign_reference(visit.store, visit.person.person_id, said, visit.now_utc, visit.page.home)
    return visit.back("/sign", visit.say("signing.kept", number=made.number, until=visit.words.day(made.valid_until)))


def withdraw(visit: Visit) -> Response:
    number = visit.whole_number("number")
    visit.store.withdraw_reference(visit.person.person_id, number, visit.today)
    return visit.back("/sign", visit.say("signing.withdrawn", number=number))


def _text(visit: Visit, name: str) -> str:
    return " ".join(visit.form.get(name, "").split())[:300]


def _day(visit: Visit, name: str) -> date | None:
    text = visit.form.get(name, "").strip()
    return local_date(text, visit.person.language) if text else None


DOORS: Final = (
    Door("/panel", panel, TEAM),
    *(Door(f"/{kind}", _shows(kind), TEAM) for kind in _PAGES),
    Door("/sign", signing, TEAM),
    Door("/sign", sign, TEAM, ("POST",)),
    Door("/sign/withdrawn", withdraw, TEAM, ("POST",)),
)
