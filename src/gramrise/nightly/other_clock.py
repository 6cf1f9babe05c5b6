"""A zone that is told, or taken back, after things were logged: what was read on another clock than holds now.

An instant that was stored stays. Where a file's times carried a zone, or an amount was logged as it was given, it is
right; times of day without a zone were read on the clock that was known then. Whether a file's were is not kept, so
what may be wrong is named with how to read it anew, and nothing is moved by guess.
"""

from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from gramrise.domain.person import Person
from gramrise.nightly.changes_in_words import described
from gramrise.report import ScreenWords
from gramrise.store import Change, Store

# Our choice: so many changes a sentence still names; `gramrise undo` lists the others.
NAMED: Final = 6
# Our choice: an amount logged this near its own time was logged as given, not typed with a time of day.
AT_ONCE: Final = timedelta(minutes=2)


def read_on_another_clock(
    store: Store, before: Person, after: Person, words: ScreenWords, read_since_utc: datetime | None = None
) -> str:
    """What to say of the changes that brought something of days whose zone is another now; '' where there is none.

    read_since_utc  only what was brought since: a zone taken back was the clock of nothing earlier; None: all
    """
    days = _days(before, after)
    if days is None:
        return ""
    first, last = days
    was, now = (person.zone.on_or_first(first) for person in (before, after))
    assert was is not None
    assert now is not None
    start_utc = datetime.combine(first, time(), was).astimezone(UTC)
    end_utc = None if last is None else datetime.combine(last, time(), was).astimezone(UTC)
    brought = store.changes_that_brought(after.person_id, start_utc, end_utc)
    if read_since_utc is not None:
        brought = [each for each in brought if each.made_at_utc >= read_since_utc]
    touched = [each for each in brought if not _logged_as_given(each)]
    if not touched:
        return ""
    named = "; ".join(f"{each.change_id} {described(each, after, words)}" for each in touched[:NAMED])
    if len(touched) > NAMED:
        named += words.say("undo.clock_more", count=len(touched) - NAMED)
    return words.say("undo.clock", was=was.key, now=now.key, since=words.day(first), named=named)


def _days(before: Person, after: Person) -> tuple[date, date | None] | None:
    """The first local day whose zone is another, and the first behind it that is the same again; None: no such day."""
    starts = sorted({day for person in (before, after) for day, _ in person.zone.entries})
    differs = [before.zone.on_or_first(day) != after.zone.on_or_first(day) for day in starts]
    if True not in differs:
        return None
    at = differs.index(True)
    again = next((day for day, other in zip(starts[at:], differs[at:], strict=True) if not other), None)
    return starts[at], again


def _logged_as_given(change: Change) -> bool:
    """Whether glucose was logged in the minutes in which it was given: its instant is right on any clock."""
    if change.kind != "given":
        return False
    taken = [datetime.fromisoformat(each["taken_at_utc"]) for each in change.about["doses"]]
    return all(abs(change.made_at_utc - each) <= AT_ONCE for each in taken)
