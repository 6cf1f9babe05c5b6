"""How a number stands to the signed one, in one sentence; never a cause."""

from typing import Final

from gramrise.report.review.numbers.view import DriftLine
from gramrise.report.words import Words

# Our choice: a change below so much is called none; the numbers' own rounding is of that size.
LEAST_CHANGE: Final = 0.03
# Our choice: growth's part is named from one percent on.
LEAST_GROWTH: Final = 0.01
# Our choice: the signed number and today's number of that same day differ by rounding and a late file below this.
LEAST_RECOMPUTED: Final = 0.10


def drift_sentence(line: DriftLine, words: Words) -> str:
    """'Overnight 22:00-07:00: 1 g raises 24 % less than signed on 3 May; 6 % is growth, the rest is not ...'"""
    when = words.band_and_hours(line.band, line.hours)
    day = words.day(line.reference_on, "brief")
    since = words.say("moved.since", count=line.pairings_since)
    if line.finding == "nothing_since":
        return words.say("moved.nothing_since", band=when, day=day)
    change = line.ratio - 1
    then = words.say("moved.signed_on" if line.signed else "moved.on", day=day)
    code = "same" if abs(change) < LEAST_CHANGE else "more" if change > 0 else "less"
    said = words.say(f"moved.{code}", band=when, then=then, change=words.percent(abs(change)))
    return f"{said}; {_explained(line, change, words)}; {since}."


def _explained(line: DriftLine, change: float, words: Words) -> str:
    """How much of it growth explains, and how sure the rest is."""
    growth = line.growth_ratio - 1
    named = abs(growth) >= LEAST_GROWTH
    along = growth * change > 0 and round(abs(growth), 2) <= round(abs(change), 2)
    code = "none" if not named else "along" if along else "against"
    return words.say(f"moved.{line.finding}_{code}", growth=words.percent(abs(growth)))


def drift_numbers(line: DriftLine, words: Words) -> str:
    """The numbers behind the sentence."""
    return words.say(
        "moved.numbers",
        low=words.number(line.ratio_p05, 2),
        high=words.number(line.ratio_p95, 2),
        growth=words.number(line.growth_ratio, 2),
        probability=words.chance(line.probability_moved),
    )


def recomputed(line: DriftLine, signed: float | None, now: float | None, words: Words) -> str:
    """Where the number of the signed day is another by all that is known today; '' where it is about the same.

    The change is told between two numbers of today's knowledge; without this a reader would hold it against what was
    signed.
    signed, now   mg/dL per g, as signed and as it stands today
    """
    if not line.signed or signed is None or now is None or signed <= 0:
        return ""
    then = now / line.ratio
    if abs(then / signed - 1) < LEAST_RECOMPUTED:
        return ""
    was, today = words.factor(signed, then)
    return words.say("moved.recomputed", signed=was, today=today, unit=str(words.unit))
