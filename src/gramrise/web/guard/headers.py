"""Headers of every answer: what the browser may load, frame, guess and keep."""

from typing import Final

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

# Nothing from elsewhere, no script or style inside a page, nothing in a frame, forms go home only.
POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
# Reports and reviews carry their styles and pictures within; they may run nothing at all.
PAPER_POLICY: Final = (
    "sandbox allow-same-origin allow-popups; default-src 'none'; style-src 'unsafe-inline'; img-src data:; "
    "form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
# The clinic review: its own style sheet, its drawings within; it may run nothing and send nothing.
REVIEW_POLICY: Final = (
    "default-src 'none'; style-src 'self' 'unsafe-inline'; img-src data:; form-action 'none'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
_ALWAYS: Final = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
}
# A year: a device that came over TLS once comes so again.
_ONLY_TLS: Final = "max-age=31536000"


class SafeHeaders:
    """Puts the headers onto every answer; an answer's own policy or caching stands."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _ALWAYS.items():
                    headers[name] = value
                headers.setdefault("Content-Security-Policy", POLICY)
                headers.setdefault("Cache-Control", "no-store")
                if scope.get("scheme") == "https":
                    headers["Strict-Transport-Security"] = _ONLY_TLS
            await send(message)

        await self.app(scope, receive, with_headers)
