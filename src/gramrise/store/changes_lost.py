"""What was changed after a backup was made: a restore puts it back as it was then, and has to say so."""

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

from gramrise.store.changes import GIVEN, IMPORT, WEIGHING, Change
from gramrise.store.instants import instant, instant_or_none
from gramrise.store.troubles import explained

# What these brought is named by the ledger of imports, with its rows.
_OF_THE_LEDGER: Final = frozenset({GIVEN, IMPORT, WEIGHING})
_CHANGES: Final = "SELECT change_id, person_id, kind, made_at, about, taken_back_at FROM changes ORDER BY change_id"


def changes_of(replaced: Path) -> list[Change]:
    """All changes that a database holds which nobody writes to any more, oldest first; none of one without that table.

    raises  CouldNotRun where it cannot be read
    """
    with explained(replaced), closing(sqlite3.connect(f"file:{replaced}?mode=ro", uri=True)) as old:
        if old.execute("SELECT count(*) FROM sqlite_master WHERE name = 'changes'").fetchone()[0] == 0:
            return []
        return [
            Change(number, who, kind, instant(made_at), json.loads(about), instant_or_none(back))
            for number, who, kind, made_at, about, back in old.execute(_CHANGES)
        ]


def persons_of(replaced: Path) -> set[str]:
    """Ids of the persons of a database which nobody writes to any more. Raises CouldNotRun as `changes_of`."""
    with explained(replaced), closing(sqlite3.connect(f"file:{replaced}?mode=ro", uri=True)) as old:
        return {str(row[0]) for row in old.execute("SELECT person_id FROM persons")}


def made_since(had: list[Change], has: list[Change]) -> list[Change]:
    """Changes that stood and that the restored database does not have, beside those which the ledger of imports names.

    had  of the replaced database
    has  of the restored one
    """
    known = {_alike(each) for each in has}
    return [
        each
        for each in had
        if each.kind not in _OF_THE_LEDGER and each.taken_back_at_utc is None and _alike(each) not in known
    ]


def counting_again(had: list[Change], has: list[Change]) -> list[Change]:
    """Changes of the restored database, with its numbers, that were taken back since and stand again."""
    back = {_alike(each) for each in had if each.taken_back_at_utc is not None}
    return [each for each in has if each.taken_back_at_utc is None and _alike(each) in back]


def _alike(change: Change) -> tuple[str, str, str, str]:
    told = json.dumps(change.about, sort_keys=True)
    return (change.person_id, change.kind, change.made_at_utc.isoformat(), told)
