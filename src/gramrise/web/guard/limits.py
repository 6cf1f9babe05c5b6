"""Limits: how often, how much, how slowly. Whoever passes one is answered plainly, and nothing of theirs is kept."""

import asyncio
import time
from collections.abc import Callable
from threading import Lock
from typing import Final

from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from gramrise.web.settings import WebSettings

# So many keys are remembered; then those that are full again are let go. Our choice: some MB at most.
_MOST_KEYS: Final = 10_000
_UPLOAD_ENDS: Final = "/upload"


class Throttle:
    """Buckets by key, each refilled evenly: `most` at once, and `most` in `seconds`."""

    def __init__(self, most: int, seconds: float, clock: Callable[[], float] = time.monotonic) -> None:
        self.most, self.rate, self._clock = float(most), most / seconds, clock
        self._left: dict[str, tuple[float, float]] = {}
        self._lock = Lock()

    def allows(self, key: str) -> bool:
        """Takes one out of the key's bucket; False where it is empty."""
        with self._lock:
            now = self._clock()
            if len(self._left) >= _MOST_KEYS:
                self._left = {k: v for k, v in self._left.items() if self._now(v, now) < self.most}
            left = self._now(self._left.get(key, (self.most, now)), now)
            self._left[key] = (max(left - 1, 0.0) if left >= 1 else left, now)
            return left >= 1

    def _now(self, bucket: tuple[float, float], now: float) -> float:
        left, at = bucket
        return min(self.most, left + (now - at) * self.rate)


class BodyLimits:
    """Lets no body grow past its limit or come slower than patience: 413 or 408, and what came is dropped."""

    def __init__(self, app: ASGIApp, settings: WebSettings) -> None:
        self.app, self.settings = app, settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        most, got, ends = self._most(scope), 0, time.monotonic() + self.settings.body_seconds

        async def limited() -> Message:
            nonlocal got
            patience = min(self.settings.silent_seconds, max(ends - time.monotonic(), 0.0))
            try:
                message = await asyncio.wait_for(receive(), patience)
            except TimeoutError:
                raise HTTPException(408) from None
            got += len(message.get("body", b""))
            if got > most:
                raise HTTPException(413)
            return message

        stated = next((value for name, value in scope["headers"] if name == b"content-length"), b"0")
        if not stated.isdigit() or int(stated) > most:
            await _refuse(send, 413)
            return
        await self.app(scope, limited if scope["method"] == "POST" else receive, send)

    def _most(self, scope: Scope) -> int:
        upload = scope["path"].endswith(_UPLOAD_ENDS)
        return self.settings.upload_most_mb * 1_000_000 if upload else self.settings.form_most_kb * 1_000


async def _refuse(send: Send, status: int) -> None:
    headers = [(b"content-type", b"text/plain"), (b"connection", b"close"), (b"cache-control", b"no-store")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": b""})
