"""What is asked about a count: where the pieces went, or which of count and log is right. No wording accuses."""

from datetime import datetime
from typing import Final

from gramrise.domain.counts import ContainerCount
from gramrise.domain.person import Person
from gramrise.domain.questions import Question
from gramrise.place.counted import PlacedCount, source_counted
from gramrise.place.layings import Laying

GONE: Final = "gone_from_container"
CONTRADICTS: Final = "count_contradicts_log"
OTHERS: Final = "not this child: a sibling, a friend, a refill, a second tin, a dropped piece"
# Our choice: more than three ways to choose from are not read at the kitchen table.
WAYS_OFFERED: Final = 3


def count_question(placed: PlacedCount, person: Person) -> Question | None:
    """The question a count raises; None where log and count agree."""
    if placed.contradicts_log:
        return _contradiction(placed, person)
    return None if placed.laid is None else _gone(placed, person)


def _gone(placed: PlacedCount, person: Person) -> Question:
    count, source = placed.count, source_counted(person, placed.count)
    assert placed.laid is not None  # asked for by the caller
    ways = [way for way in placed.laid.layings if any(way.pieces)][:WAYS_OFFERED]
    words = {answer_of(placed, way): way_words(placed, way, person) for way in ways}
    words |= {"not_this_child": OTHERS, "unknown": "nobody knows"}
    sentence = (
        f"{_many(placed.pieces_untimed)} ({placed.grams_untimed:.1f} g) more are gone from '{count.container}' between "
        f"{_clock(count.from_utc, person)} and {_clock(count.to_utc, person)} than are logged. Do you know where they "
        "went? It is fine not to. If this child ate them and you know when, log that with its time."
    )
    about = {
        "taken_at_utc": count.from_utc.isoformat(),
        "text": count.container,
        "source": count.source,
        "form": str(source.form),
        "grams_per_piece": source.glucose_per_unit_g,
        "words": words,
    }
    return Question(count.person_id, GONE, count_key(placed.count), sentence, tuple(words), about)


def _contradiction(placed: PlacedCount, person: Person) -> Question:
    count = placed.count
    more, left = placed.pieces_logged - count.pieces_gone, max(0.0, count.pieces_filled - placed.pieces_logged)
    words = {
        "count_right": f"the count is right: {_many(count.pieces_gone)} gone; other pieces came from elsewhere",
        "refilled": f"the log is right, and {more:g} more were put in meanwhile; {count.pieces_left} are left",
        "miscounted": f"the log is right, and it was counted wrongly: {left:g} are left",
    }
    sentence = (
        f"{placed.pieces_logged:g} pieces of {count.source} are logged between {_clock(count.from_utc, person)} and "
        f"{_clock(count.to_utc, person)}, but only {count.pieces_gone} are gone from '{count.container}'. Which "
        "is right?"
    )
    about: dict[str, object] = {
        "taken_at_utc": count.from_utc.isoformat(),
        "text": count.container,
        "pieces_logged": placed.pieces_logged,
        "words": words,
    }
    return Question(count.person_id, CONTRADICTS, count_key(placed.count), sentence, tuple(words), about)


def answer_of(placed: PlacedCount, way: Laying) -> str:
    """The answer that logs a laying: 'taken:4@2026-03-02T09:40:00+00:00'."""
    pairs = zip(placed.recoveries, way.pieces, strict=True)
    return "taken:" + ",".join(f"{n}@{each.at_utc.replace(microsecond=0).isoformat()}" for each, n in pairs if n)


def way_words(placed: PlacedCount, way: Laying, person: Person) -> str:
    """'4 pieces near Mon 10:40, 3 elsewhere (62 %)'."""
    pairs = zip(placed.recoveries, way.pieces, strict=True)
    told = [f"{_many(n)} near {_clock(each.at_utc, person)}" for each, n in pairs if n]
    if not told:
        return f"none of it at a turn of this trace ({chance(way.probability)})"
    if way.elsewhere:
        told.append(f"{_many(way.elsewhere)} not by this child, or at no low")
    return f"{', '.join(told)} ({chance(way.probability)})"


def chance(probability: float) -> str:
    """Whole percent, never 0 or 100: nothing judged from readings is that sure."""
    return f"{min(99, max(1, round(100 * probability)))} %"


def count_key(count: ContainerCount) -> str:
    """The key under which a count is asked about."""
    return f"{count.container}|{count.to_utc.isoformat()}"


def _many(pieces: int) -> str:
    return f"{pieces} piece" + ("" if pieces == 1 else "s")


def _clock(at_utc: datetime, person: Person) -> str:
    return f"{at_utc.astimezone(person.zone.on_or_first(at_utc.date())):%a %H:%M}"
