"""How a number stands to the signed one, in one sentence; never a cause."""

from typing import Final

from gramrise.report.review.numbers.view import DriftLine
from gramrise.report.words import Words

# Our choice: a change below so much is called none; the numbers' own rounding is of that size.
LEAST_CHANGE: Final = 0.03


def drift_sentence(line: DriftLine, words: Words) -> str:
    """'Overnight 22:00-07:00: 1 g raises 24 % less than signed on 3 May; 6 is growth, the rest is not ...'"""
    when = words.band_and_hours(line.band, line.hours)
    day = words.day(line.reference_on, "brief")
    change = line.ratio - 1
    if abs(change) < LEAST_CHANGE:
        said = words.say("moved.same", band=when, day=day)
    else:
        code = "moved.more" if change > 0 else "moved.less"
        said = words.say(code, band=when, day=day, change=words.percent(abs(change)))
    return f"{said} {words.say('moved.since', count=line.pairings_since)}"


def drift_numbers(line: DriftLine, words: Words) -> str:
    """The numbers behind the sentence."""
    return words.say(
        "moved.numbers",
        low=words.number(line.ratio_p05, 2),
        high=words.number(line.ratio_p95, 2),
        growth=words.number(line.growth_ratio, 2),
        probability=words.chance(line.probability_moved),
    )
