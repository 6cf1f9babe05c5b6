"""Replies of a mail server, each of which comes to an end: the library reads as long as lines come."""

import smtplib
import time
from io import BufferedReader
from typing import Any, Final

# No server greets or answers with more lines. Our choice, far above the extensions that any offers.
MOST_LINES: Final = 1_000


class Reply:
    """The lines of one reply. Raises TimeoutError past its time or its lines."""

    def __init__(self, file: BufferedReader, seconds: float | None) -> None:
        self._file, self._lines = file, 0
        self._until = None if seconds is None else time.monotonic() + seconds

    def readline(self, most: int) -> bytes:
        """A line, or the first `most` bytes of it. What drips byte by byte ends in its time, too."""
        self._lines += 1
        line = b""
        while len(line) < most and not line.endswith(b"\n"):
            if self._lines > MOST_LINES or (self._until is not None and time.monotonic() > self._until):
                raise TimeoutError("the reply has no end")
            seen = self._file.peek(1)[: most - len(line)]
            if not seen:
                break
            line += self._file.read(seen.find(b"\n") + 1 or len(seen))
        return line

    def close(self) -> None:
        self._file.close()


class _InTime(smtplib.SMTP):
    """A session whose replies end within the time that the socket may be silent."""

    _whole: BufferedReader | None = None

    def getreply(self) -> tuple[int, bytes]:
        if self.sock is not None:
            if not isinstance(self.file, Reply):  # a new connection, or one that was just encrypted
                self._whole = self.sock.makefile("rb")
            assert self._whole is not None
            reply: Any = Reply(self._whole, self.sock.gettimeout())
            self.file = reply
        return super().getreply()


class Plain(_InTime):
    """A session that begins without encryption."""


class Encrypted(_InTime, smtplib.SMTP_SSL):
    """A session that is encrypted from its first byte."""
