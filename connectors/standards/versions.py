"""Versions of one record within a file: the newest is kept, and a withdrawal takes the others with it."""

from collections.abc import Sequence
from datetime import UTC, datetime

from gramrise.connectors.standards.records import Record

_NEVER = datetime.min.replace(tzinfo=UTC)


def newest_versions(records: Sequence[Record], *, newest_first: bool = False) -> None:
    """Marks all but the newest version of each record as passed over.

    Newer is what was made later; where that is equal or not said, what stands later in the file, and in a history,
    which begins with the newest, what stands earlier. A record taken back without a date beats every version.
    """
    best: dict[str, Record] = {}
    for record in reversed(records) if newest_first else records:
        if not record.identity:
            continue
        before = best.get(record.identity)
        if before is None:
            best[record.identity] = record
            continue
        older = record if _beats(before, record) else before
        newer = before if older is record else record
        best[record.identity] = newer
        _set_behind(older, newer)


def _beats(before: Record, record: Record) -> bool:
    """Whether an earlier version stands against a later one of the file."""
    if before.withdrawn and before.updated_utc is None:
        return True
    if record.withdrawn and record.updated_utc is None:
        return False
    return (before.updated_utc or _NEVER) > (record.updated_utc or _NEVER)


def _set_behind(older: Record, newer: Record) -> None:
    older.repeats = older.facts == newer.facts and not newer.withdrawn
    older.passed = "an older version of a record that stands in the file again"
    older.facts, older.held, older.withdrawn, older.gaps = (), (), False, older.offered
