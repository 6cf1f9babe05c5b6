"""Floor 3: tables, migrations, queries; the only room that speaks SQL."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gramrise.store.backup import restore_backup, write_backup
    from gramrise.store.database import DATABASE_FILE, NEWEST_STEP, refuse_damaged, step_of_file
    from gramrise.store.findings.cards import Card
    from gramrise.store.ingest.overlap import Overlap
    from gramrise.store.instants import BEGINNING, instant, stored
    from gramrise.store.outbox import SENDING, WAITING, Letter
    from gramrise.store.questions.stored_questions import StoredQuestion, possible_answers
    from gramrise.store.runs import DONE, FAILED, NIGHTLY, WEEKLY, PersonRun
    from gramrise.store.store import Store

__all__ = [
    "BEGINNING",
    "DATABASE_FILE",
    "DONE",
    "FAILED",
    "NEWEST_STEP",
    "NIGHTLY",
    "SENDING",
    "WAITING",
    "WEEKLY",
    "Card",
    "Letter",
    "Overlap",
    "PersonRun",
    "Store",
    "StoredQuestion",
    "instant",
    "possible_answers",
    "refuse_damaged",
    "restore_backup",
    "step_of_file",
    "stored",
    "write_backup",
]

_HOMES = {
    "BEGINNING": "instants",
    "Card": "findings.cards",
    "DATABASE_FILE": "database",
    "DONE": "runs",
    "FAILED": "runs",
    "Letter": "outbox",
    "NEWEST_STEP": "database",
    "NIGHTLY": "runs",
    "Overlap": "ingest.overlap",
    "PersonRun": "runs",
    "SENDING": "outbox",
    "Store": "store",
    "StoredQuestion": "questions.stored_questions",
    "WAITING": "outbox",
    "WEEKLY": "runs",
    "instant": "instants",
    "possible_answers": "questions.stored_questions",
    "refuse_damaged": "database",
    "restore_backup": "backup",
    "step_of_file": "database",
    "stored": "instants",
    "write_backup": "backup",
}


def __getattr__(name: str) -> Any:
    """Loads a part of the store when it is first asked for: a quick command needs few of them."""
    if name not in _HOMES:
        raise AttributeError(name)
    return getattr(import_module(f"gramrise.store.{_HOMES[name]}"), name)
