"""Who asks: the session of the cookie, the devices behind it, and whether they may still read."""

from datetime import datetime, timedelta
from typing import Final

from starlette.requests import Request
from starlette.responses import Response

from gramrise.store import CLINIC, HELPER, Device, Store
from gramrise.web.guard.secrets import hashed
from gramrise.web.settings import WebSettings

# Over TLS the browser itself holds the name to this host and to TLS.
_TLS_COOKIE: Final = "__Host-gramrise"
_PLAIN_COOKIE: Final = "gramrise"
# Browsers keep no cookie longer than 400 days (RFC 6265bis); logging must not end by itself before.
_COOKIE_SECONDS: Final = 400 * 24 * 3600


def cookie_name(request: Request) -> str:
    return _TLS_COOKIE if request.url.scheme == "https" else _PLAIN_COOKIE


def session_of(request: Request) -> str:
    """The secret that the cookie carries; "" for none."""
    return request.cookies.get(cookie_name(request), "")


def set_session(request: Request, response: Response, session: str) -> None:
    """Hands the device its secret: out of reach of scripts, never sent along from another site."""
    response.set_cookie(
        cookie_name(request),
        session,
        max_age=_COOKIE_SECONDS,
        path="/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="strict",
    )


def devices_of(store: Store, session: str) -> list[Device]:
    """The devices of a session that nobody shut out, one a person."""
    return store.devices.of_session(hashed(session)) if session else []


def is_idle(device: Device, now_utc: datetime, settings: WebSettings) -> bool:
    """Whether a device was not read on for so long that it may only log. Helpers' devices never are."""
    if device.role == HELPER or device.read_at_utc is None:
        return False
    hours = timedelta(hours=settings.clinic_idle_hours)
    allowed = hours if device.role == CLINIC else timedelta(days=settings.parent_idle_days)
    return now_utc - device.read_at_utc > allowed


def use_is_due(device: Device, now_utc: datetime, settings: WebSettings) -> bool:
    """Whether reading should be noted again."""
    return device.read_at_utc is None or now_utc - device.read_at_utc > timedelta(minutes=settings.note_use_minutes)


def comes_from_here(request: Request) -> bool:
    """Whether a form was sent from a page of ours, as far as the browser says."""
    site = request.headers.get("sec-fetch-site")
    if site is not None and site not in {"same-origin", "none"}:
        return False
    origin = request.headers.get("origin")
    return origin is None or origin == f"{request.url.scheme}://{request.headers.get('host', '')}"
