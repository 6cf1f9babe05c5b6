"""The service's log: one JSON document a line, without health values, names, ids or file names.

Persons and files appear as codes made with the home's own random mark: the same person has the same code in every line,
and nobody can read a name out of it. An unexpected error is told by its kind and place, never by its text, which may
quote a value.
"""

import hashlib
import json
import logging
import sys
from datetime import UTC, datetime
from typing import Any, TextIO

from gramrise.domain.problems import place_of

LOG = logging.getLogger("gramrise.nightly")
LOG.addHandler(logging.NullHandler())  # silent until somebody says where to: a command tells its user itself
TOLD = "told"
__all__ = ["LOG", "code_of", "log_to", "place_of", "say"]


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
