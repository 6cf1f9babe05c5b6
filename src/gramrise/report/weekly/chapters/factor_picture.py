"""The picture of the factors: what 1 g raises in each band, its doubt, the weight table and each treatment."""

from collections.abc import Callable
from math import log
from typing import Final

from gramrise.report.style import INK, PAPER, QUIET, RULE
from gramrise.report.weekly.chapters.document import Picture
from gramrise.report.weekly.chapters.svg import line, picture, text
from gramrise.report.weekly.numbers.view import FactorView, WeeklyView
from gramrise.report.words import Words

# Marks offered on the ratio scale, in either unit; those within the drawn range are used.
MARKS: Final = (0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 1, 1.5, 2, 3, 4, 5, 7, 10, 15, 20, 30, 50, 70, 100)
WIDE_POINTS: Final = 482.0
NARROW_POINTS: Final = 340.0
ROW_POINTS: Final = 27.0
AXIS_POINTS: Final = 16.0
LABEL_POINTS: Final = 9.0
MARK_POINTS: Final = 7.5
ROOM_AROUND: Final = 1.1  # our choice: the drawn range goes this far beyond the outermost value
FAR_OUT: Final = 2.0  # our choice: a single treatment this far beyond the numbers would only squeeze the scale


def ladder_picture(view: WeeklyView, words: Words) -> Picture | None:
    """None when no band has a number."""
    known = [factor for factor in view.factors if factor.known]
    if not known:
        return None
    return Picture(
        name="factors",
        svg=_svg(known, words, WIDE_POINTS, left=130.0),
        narrow_svg=_svg(known, words, NARROW_POINTS, left=0.0),
        alt=f"{_alt(known, words)}{_fewer(known, words)}",
        caption=f"{words.say('evidence_picture.caption')}{_fewer(known, words)}",
    )


def _fewer(factors: list[FactorView], words: Words) -> str:
    """Why other treatments are drawn than the table counts; '' where the two agree."""
    differ = any(len(factor.single_mg_dl_per_g) != factor.pairings_used for factor in factors)
    return " " + words.say("evidence_picture.fewer") if differ else ""


def _alt(factors: list[FactorView], words: Words) -> str:
    told = []
    for factor in factors:
        middle, low, high, _ = words.factor(*factor.numbers)
        told.append(
            words.say(
                "evidence_picture.band_alt",
                band=words.band_and_hours(factor.band, factor.hours),
                middle=middle,
                low=low,
                high=high,
                table=words.factor(factor.numbers[-1])[0],
                count=len(factor.single_mg_dl_per_g),
            )
        )
    return words.say("evidence_picture.alt", bands=" ".join(told))


def _svg(factors: list[FactorView], words: Words, width: float, left: float) -> str:
    label = 0.0 if left else 14.0
    lowest, highest = _range(factors)

    def x(value: float) -> float:
        inside = min(max(value, lowest), highest)
        return left + 4 + (width - left - 8) * log(inside / lowest) / log(highest / lowest)

    parts: list[str] = []
    top = 0.0
    for factor in factors:
        name = words.band_and_hours(factor.band, factor.hours)
        parts.append(text(0, top + (11 if label else 14.5), name, LABEL_POINTS, INK))
        top += label
        parts += _row(factor, top + 11, x)
        top += ROW_POINTS
    parts.append(line(left, top, width, top, RULE, 0.4))
    for mark in MARKS:
        at = words.to_mg_dl(mark)
        if lowest <= at <= highest:
            parts.append(line(x(at), top, x(at), top - 2.5, RULE, 0.5))
            parts.append(text(x(at), top + 9.5, words.mark(mark), MARK_POINTS, QUIET, "middle"))
    return picture(width, top + AXIS_POINTS, parts)


def _range(factors: list[FactorView]) -> tuple[float, float]:
    """What is drawn: every number, and single treatments unless they lie far out (those stand at the edge)."""
    numbers = [value for factor in factors for value in factor.numbers]
    singles = [value for factor in factors for value in factor.single_mg_dl_per_g]
    lowest = max(min([*numbers, *singles]), min(numbers) / FAR_OUT)
    highest = min(max([*numbers, *singles]), max(numbers) * FAR_OUT)
    return lowest / ROOM_AROUND, highest * ROOM_AROUND


def _row(factor: FactorView, y: float, x: Callable[[float], float]) -> list[str]:
    middle, low, high, table = factor.numbers
    parts = [line(x(low), y, x(high), y, INK, 1.6)]
    parts += [line(x(one), y + 9, x(one), y + 14, QUIET, 0.6) for one in factor.single_mg_dl_per_g]
    parts.append(f'<circle cx="{x(table):.1f}" cy="{y:.1f}" r="3" fill="{PAPER}" stroke="{INK}" stroke-width="0.9"/>')
    parts.append(line(x(middle), y - 7, x(middle), y + 7, INK, 2))
    return parts
