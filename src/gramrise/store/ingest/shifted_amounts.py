"""Amounts of one file that are those of others, each as far off in time: one log, read by two clocks."""

from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Final, NamedTuple

from sqlalchemy import ColumnElement, Connection, select

from gramrise.store.instants import MICROSECONDS_IN_A_MINUTE, instant
from gramrise.store.schema import doses

# Our choice: three nights may be alike, four amounts of one log at another log's very minutes are not.
FEWEST: Final = 4
# Clocks that somebody may have taken for one another differ by whole half hours, by at most 14 h from UTC (tz data).
STEP_MINUTES: Final = 30
MOST_MINUTES: Final = 14 * 60
SAME_SHARE: Final = 0.9  # our choice: an amount or two may have been mended since

_What = tuple[Any, ...]


class Shifted(NamedTuple):
    """How many amounts are told again, how much later than known (minutes), and the first and last instant told."""

    amounts_n: int
    minutes_later: int
    first_utc: datetime
    last_utc: datetime


def shifted(connection: Connection, person_id: str, import_ids: Sequence[int]) -> Shifted | None:
    """The amounts of some imports that stand as well in others, all by one difference of clocks; None where none do.

    Only amounts that the others could have told are counted: those that lie, so far off, between their first and last.
    """
    table = doses.c
    mine = _amounts(connection, person_id, table.import_id.in_(import_ids))
    if sum(map(len, mine.values())) < FEWEST:
        return None
    near = table.minute.between(min(mine) - MOST_MINUTES, max(mine) + MOST_MINUTES)
    others = table.import_id.is_(None) | table.import_id.not_in(import_ids)  # none: entered by hand
    theirs = _amounts(connection, person_id, near & others)
    if not theirs:
        return None
    first, last = min(theirs), max(theirs)
    for minutes, _ in _differences(mine, theirs).most_common():
        told = [(minute, what) for minute, many in mine.items() for what in many if first <= minute - minutes <= last]
        same = [minute for minute, what in told if what in theirs.get(minute - minutes, ())]
        if len(same) >= FEWEST and len(same) >= SAME_SHARE * len(told):
            return Shifted(
                len(same), minutes, *(instant(at * MICROSECONDS_IN_A_MINUTE) for at in (min(same), max(same)))
            )
    return None


def _amounts(connection: Connection, person_id: str, which: ColumnElement[bool]) -> dict[int, set[_What]]:
    """The sources and amounts of some stored doses, by minute."""
    table = doses.c
    chosen = select(table.minute, table.source, table.amount, table.amount_unit)
    found: dict[int, set[_What]] = {}
    for minute, *what in connection.execute(chosen.where(table.person_id == person_id, which)):
        found.setdefault(minute, set()).add(tuple(what))
    return found


def _differences(mine: dict[int, set[_What]], theirs: dict[int, set[_What]]) -> Counter[int]:
    """How many equal amounts lie how many minutes apart, for each difference that clocks may have."""
    found: Counter[int] = Counter()
    for minutes in range(-MOST_MINUTES, MOST_MINUTES + 1, STEP_MINUTES):
        if minutes:
            same = sum(len(many & theirs.get(minute - minutes, set())) for minute, many in mine.items())
            found.update({minutes: same} if same >= FEWEST else {})
    return found
