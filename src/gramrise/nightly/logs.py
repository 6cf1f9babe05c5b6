"""The service's log: one JSON document a line, without health values, names, ids or file names.

Persons and files appear as codes made with the home's own random mark: the same person has the same code in every line,
and nobody can read a name out of it. An unexpected error is told by its kind and place, never by its text, which may
quote a value.
"""

import hashlib
import json
import logging
import sys
import traceback
from datetime import UTC, datetime
from typing import Any, TextIO

LOG = logging.getLogger("gramrise.nightly")
LOG.addHandler(logging.NullHandler())  # silent until somebody says where to: a command tells its user itself
TOLD = "told"


class AsJson(logging.Formatter):
    """A record as one line: at_utc, level, event, and what was told with it."""

    def format(self, record: logging.LogRecord) -> str:
        document = {
            "at_utc": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "event": record.getMessage(),
            **getattr(record, TOLD, {}),
        }
        return json.dumps(document)


def log_to(stream: TextIO = sys.stderr) -> None:
    """Sends the service's log to a stream; a second call changes the stream."""
    handler = logging.StreamHandler(stream)
    handler.setFormatter(AsJson())
    LOG.handlers[:] = [handler]
    LOG.setLevel(logging.INFO)
    LOG.propagate = False


def say(event: str, level: int = logging.INFO, **told: Any) -> None:
    """Logs an event: a fixed text, with numbers and codes only."""
    LOG.log(level, event, extra={TOLD: told})


def code_of(home_mark: str, name: str) -> str:
    """The code under which a person or file appears in the log."""
    return hashlib.sha256(f"{home_mark} {name}".encode()).hexdigest()[:8]


def place_of(error: BaseException) -> str:
    """Kind and place of an unexpected error, without its text: 'KeyError at rows.py:41', the last place of our own."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "gramrise" in frame.filename]
    last = next(reversed(ours or frames), None)
    where = f" at {last.filename.rsplit('/', 1)[-1]}:{last.lineno}" if last else ""
    return f"{type(error).__name__}{where}"
