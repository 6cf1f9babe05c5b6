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
    _name_owners(records)
    best: dict[tuple[str, str], Record] = {}
    for record in reversed(records) if newest_first else records:
        if not record.identity:
            continue
        key = (record.whose, record.identity)
        before = best.get(key)
        if before is None:
            best[key] = record
            continue
        older = record if _beats(before, record) else before
        newer = before if older is record else record
        best[key] = newer
        _set_behind(older, newer)


def _name_owners(records: Sequence[Record]) -> None:
    """A deletion by its address is of the person whose record has that address, if there is only one."""
    owners: dict[str, set[str]] = {}
    for record in records:
        if record.identity and record.whose:
            owners.setdefault(record.identity, set()).add(record.whose)
    for record in records:
        if record.withdrawn and not record.whose and len(owners.get(record.identity, ())) == 1:
            (record.whose,) = owners[record.identity]


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
