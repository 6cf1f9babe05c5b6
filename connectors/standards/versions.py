"""Versions of one record within a file: the newest is kept, and a withdrawal takes the others with it."""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Final

from gramrise.connectors.standards.records import Fact, Held, Record

_NEVER = datetime.min.replace(tzinfo=UTC)
# Our choice: somebody mends the time of a record once; so many times of one id, none made later than another, are of
# so many records.
_TIMES_OF_SEVERAL: Final = 3


def newest_versions(records: Sequence[Record], *, newest_first: bool = False) -> None:
    """Marks all but the newest version of each record as passed over.

    Newer is what was made later; where that is equal or not said, what stands later in the file, and in a history,
    which begins with the newest, what stands earlier. A record taken back without a date beats every version.
    """
    _name_owners(records)
    if not newest_first:
        _hold_ids_of_several(records)
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


def _hold_ids_of_several(records: Sequence[Record]) -> None:
    """Records of one id that are no versions of each other are held, each by name."""
    groups: dict[tuple[str, str], list[Record]] = {}
    for record in records:
        if record.identity and _times(record):
            groups.setdefault((record.whose, record.identity), []).append(record)
    for (_, identity), alike in groups.items():
        if len(alike) < _TIMES_OF_SEVERAL or len({record.updated_utc for record in alike}) > 1:
            continue
        times = {_times(record) for record in alike}
        if len(times) < _TIMES_OF_SEVERAL or sum(map(len, times)) > len(frozenset[object]().union(*times)):
            continue
        for record in alike:
            record.held = (Held("id_of_several", "id", identity[-80:]),)
            record.facts, record.gaps, record.by_name, record.identity = (), 0, None, ""


def _times(record: Record) -> frozenset[object]:
    """The instants and days that a record states, its medication's by name included."""
    by_name = record.by_name[1] if record.by_name is not None else None
    facts = record.facts or ((by_name,) if isinstance(by_name, Fact) else ())
    return frozenset(fact.at.utc if fact.at is not None else fact.on for fact in facts)


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
    older.repeats = (older.facts, older.by_name) == (newer.facts, newer.by_name) and not newer.withdrawn
    older.passed = "an older version of a record that stands in the file again"
    older.facts, older.held, older.withdrawn, older.gaps = (), (), False, older.offered
    older.by_name = None  # a household that knows the words would read it after all
