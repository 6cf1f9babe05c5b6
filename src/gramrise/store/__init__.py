"""Floor 3: tables, migrations, queries; the only room that speaks SQL."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gramrise.store.access import Actor, Entry
    from gramrise.store.access.trail import CHANGED, SAW, SIGNED, TOOK_OUT
    from gramrise.store.backup import write_backup
    from gramrise.store.changes import FACTS, WEIGHING, Change
    from gramrise.store.changes_lost import changes_of, counting_again, made_since, persons_of
    from gramrise.store.database import (
        DATABASE_FILE,
        NEWEST_STEP,
        make_home,
        refuse_damaged,
        standing_step,
        step_of_file,
        step_on_server,
    )
    from gramrise.store.findings.cards import Card
    from gramrise.store.findings.to_find_from import ToFindFrom
    from gramrise.store.forgetting import copies, erase_from_copy, remove_unfinished_copies
    from gramrise.store.ingest.file_transaction import COUNTS, AmountsGone, FileTransaction
    from gramrise.store.ingest.overlap import Between, Overlap
    from gramrise.store.ingest.shifted_amounts import Shifted
    from gramrise.store.instants import BEGINNING, instant, stored
    from gramrise.store.keeping import new_key, read_key
    from gramrise.store.keeping.checksums import sum_of
    from gramrise.store.outbox import GIVEN_UP, SENDING, WAITING, Letter
    from gramrise.store.page.devices import CLINIC, HELPER, PARENT, ROLES, Device
    from gramrise.store.page.phone_log import Given, Logged, NotedBeside
    from gramrise.store.postgres import only_one_in_database
    from gramrise.store.postgres.locks import Hold
    from gramrise.store.questions.kinds import REPLACED, RIGHT, TAKE_BACK
    from gramrise.store.questions.stored_questions import (
        StoredQuestion,
        possible_answers,
        still_offered,
    )
    from gramrise.store.restoring import imports_lost, refuse_half_restored, restore_backup, restore_left_over
    from gramrise.store.runs import DONE, FAILED, NIGHTLY, WEEKLY, PersonRun
    from gramrise.store.schema_check import refuse_other_tables
    from gramrise.store.store import Store
    from gramrise.store.troubles import file_refused, may_only_be_read

__all__ = [
    "BEGINNING",
    "CHANGED",
    "CLINIC",
    "COUNTS",
    "DATABASE_FILE",
    "DONE",
    "FACTS",
    "FAILED",
    "GIVEN_UP",
    "HELPER",
    "NEWEST_STEP",
    "NIGHTLY",
    "PARENT",
    "REPLACED",
    "RIGHT",
    "ROLES",
    "SAW",
    "SENDING",
    "SIGNED",
    "TAKE_BACK",
    "TOOK_OUT",
    "WAITING",
    "WEEKLY",
    "WEIGHING",
    "Actor",
    "AmountsGone",
    "Between",
    "Card",
    "Change",
    "Device",
    "Entry",
    "FileTransaction",
    "Given",
    "Hold",
    "Letter",
    "Logged",
    "NotedBeside",
    "Overlap",
    "PersonRun",
    "Shifted",
    "Store",
    "StoredQuestion",
    "ToFindFrom",
    "changes_of",
    "copies",
    "counting_again",
    "erase_from_copy",
    "file_refused",
    "imports_lost",
    "instant",
    "made_since",
    "make_home",
    "may_only_be_read",
    "new_key",
    "only_one_in_database",
    "persons_of",
    "possible_answers",
    "read_key",
    "refuse_damaged",
    "refuse_gone",
    "refuse_half_restored",
    "refuse_other_tables",
    "remove_unfinished_copies",
    "restore_backup",
    "restore_left_over",
    "standing_step",
    "step_of_file",
    "step_on_server",
    "still_offered",
    "stored",
    "sum_of",
    "write_backup",
]

_HOMES = {
    "Actor": "access",
    "CHANGED": "access.trail",
    "SAW": "access.trail",
    "SIGNED": "access.trail",
    "TOOK_OUT": "access.trail",
    "Entry": "access",
    "Hold": "postgres.locks",
    "new_key": "keeping",
    "only_one_in_database": "postgres",
    "read_key": "keeping",
    "BEGINNING": "instants",
    "CLINIC": "page.devices",
    "HELPER": "page.devices",
    "PARENT": "page.devices",
    "ROLES": "page.devices",
    "Device": "page.devices",
    "Given": "page.phone_log",
    "Logged": "page.phone_log",
    "NotedBeside": "page.phone_log",
    "Card": "findings.cards",
    "Change": "changes",
    "FACTS": "changes",
    "WEIGHING": "changes",
    "COUNTS": "ingest.file_transaction",
    "FileTransaction": "ingest.file_transaction",
    "DATABASE_FILE": "database",
    "DONE": "runs",
    "FAILED": "runs",
    "GIVEN_UP": "outbox",
    "Letter": "outbox",
    "NEWEST_STEP": "database",
    "NIGHTLY": "runs",
    "sum_of": "keeping.checksums",
    "Between": "ingest.overlap",
    "Shifted": "ingest.shifted_amounts",
    "AmountsGone": "ingest.file_transaction",
    "Overlap": "ingest.overlap",
    "PersonRun": "runs",
    "REPLACED": "questions.kinds",
    "RIGHT": "questions.kinds",
    "SENDING": "outbox",
    "TAKE_BACK": "questions.kinds",
    "Store": "store",
    "StoredQuestion": "questions.stored_questions",
    "ToFindFrom": "findings.to_find_from",
    "WAITING": "outbox",
    "WEEKLY": "runs",
    "copies": "forgetting",
    "erase_from_copy": "forgetting",
    "instant": "instants",
    "make_home": "database",
    "file_refused": "troubles",
    "may_only_be_read": "troubles",
    "possible_answers": "questions.stored_questions",
    "still_offered": "questions.stored_questions",
    "refuse_damaged": "database",
    "imports_lost": "restoring",
    "changes_of": "changes_lost",
    "counting_again": "changes_lost",
    "made_since": "changes_lost",
    "persons_of": "changes_lost",
    "refuse_gone": "opening",
    "refuse_half_restored": "restoring",
    "refuse_other_tables": "schema_check",
    "remove_unfinished_copies": "forgetting",
    "restore_backup": "restoring",
    "restore_left_over": "restoring",
    "standing_step": "database",
    "step_of_file": "database",
    "step_on_server": "database",
    "stored": "instants",
    "write_backup": "backup",
}


def __getattr__(name: str) -> Any:
    """Loads a part of the store when it is first asked for: a quick command needs few of them."""
    if name not in _HOMES:
        raise AttributeError(name)
    return getattr(import_module(f"gramrise.store.{_HOMES[name]}"), name)
