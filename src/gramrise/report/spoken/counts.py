"""What is said of a count of a tin, in a person's language."""

from datetime import datetime
from typing import TYPE_CHECKING

from gramrise.report.spoken.clocks import local_time, weekday_and_clock

if TYPE_CHECKING:
    from gramrise.domain.counts import ContainerCount
    from gramrise.domain.person import Person
    from gramrise.place import Laying, PlacedCount
    from gramrise.report.screens import ScreenWords


def counted_words(made: "ContainerCount", who: "Person", words: "ScreenWords") -> str:
    """'school tin: 7 of 20 pieces of candy gone, Mon ... to Mon ...'"""
    return words.say(
        "tin.counted",
        container=made.container,
        gone=made.pieces_gone,
        filled=made.pieces_filled,
        source=made.source,
        first=local_time(made.from_utc, who),
        last=local_time(made.to_utc, who),
    )


def count_row(placed: "PlacedCount", who: "Person", words: "ScreenWords") -> str:
    """A count against the log: pieces gone, logged, and not logged."""
    made = placed.count
    return words.say(
        "tin.row",
        container=made.container,
        first=local_time(made.from_utc, who),
        last=local_time(made.to_utc, who),
        gone=made.pieces_gone,
        logged=words.amount(placed.pieces_logged),
        untimed=placed.pieces_untimed,
        grams=words.number(placed.grams_untimed, 1),
    )


def laid_words(placed: "PlacedCount", way: "Laying", who: "Person", words: "ScreenWords") -> str:
    """'4 pieces near Mon 10:40, 3 pieces not by this child, or at no low (62 %)'"""
    from gramrise.place import chance

    pairs = zip(placed.recoveries, way.pieces, strict=True)
    told = [words.say("tin.near", count=n, at=weekday_and_clock(each.at_utc, who, words)) for each, n in pairs if n]
    if not told and not placed.seen:
        return words.say("tin.no_readings")
    if not told:
        return f"{words.say('tin.at_no_turn')} ({chance(way.probability)})"
    if way.elsewhere:
        told.append(words.say("tin.elsewhere", count=way.elsewhere))
    return f"{', '.join(told)} ({chance(way.probability)})"


def taken_words(answer: str, who: "Person", words: "ScreenWords") -> str:
    """The answer 'taken:4@2026-03-02T09:57:00+00:00' of the place room in words: '4 pieces near Mon 10:57'."""
    pairs = (one.partition("@") for one in answer.partition(":")[2].split(","))
    told = ((int(n), weekday_and_clock(datetime.fromisoformat(at), who, words)) for n, _, at in pairs)
    return ", ".join(words.say("tin.near", count=n, at=at) for n, at in told)
