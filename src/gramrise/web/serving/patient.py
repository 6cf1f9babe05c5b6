"""Connections whose head comes too slowly are ended: without this one that drips holds its place for ever."""

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol


def patient_for(seconds: float) -> type[H11Protocol]:
    """The protocol of a connection that waits so long for a request's head, from its first byte or its opening."""

    class Patient(H11Protocol):
        _slow: asyncio.TimerHandle | None = None

        def connection_made(self, transport: Any) -> None:
            super().connection_made(transport)
            self._slow = self.loop.call_later(seconds, self._end)

        def data_received(self, data: bytes) -> None:
            super().data_received(data)
            if self._at_work():
                self._stop_waiting()
            elif self._slow is None:  # the next head on a connection that is kept
                self._slow = self.loop.call_later(seconds, self._end)

        def connection_lost(self, exc: Exception | None) -> None:
            self._stop_waiting()
            super().connection_lost(exc)

        def _at_work(self) -> bool:
            return self.cycle is not None and not self.cycle.response_complete

        def _stop_waiting(self) -> None:
            if self._slow is not None:
                self._slow.cancel()
            self._slow = None

        def _end(self) -> None:
            self._slow = None
            if not self._at_work():
                self.transport.close()

    return Patient
