"""One pairing as a small trace: readings, where the level was heading, and the grams at their instants."""

from collections.abc import Sequence
from math import log
from typing import Final

from gramrise.report.review.numbers.view import Paired, PersonReview
from gramrise.report.style import INK, QUIET, RULE
from gramrise.report.weekly.chapters.svg import line, picture, text
from gramrise.report.weekly.numbers.view import Point
from gramrise.report.words import Words

WIDTH: Final = 230.0
HEIGHT: Final = 128.0
LEFT: Final = 24.0
RIGHT: Final = 6.0
TOP: Final = 16.0
BOTTOM: Final = 14.0
LABEL: Final = 8.5
# Levels with a hairline, mg/dL: the consensus bound of a low, and twice it and four times it on the ratio scale.
LEVELS: Final = (70.0, 140.0, 280.0)
HOURS: Final = (-60, 0, 60, 120)


def pairing_svg(one: Paired, review: PersonReview, words: Words) -> str:
    """All pairings of a person are drawn on the same scale, so that they can be compared at a glance."""
    parts = pairing_parts(one, review, words)
    return picture(WIDTH, HEIGHT, parts)


def pairing_parts(one: Paired, review: PersonReview, words: Words) -> list[str]:
    lowest, highest = review.trace_lowest_mg_dl, review.trace_highest_mg_dl
    from_minute, to_minute = review.trace_from_minutes, review.trace_to_minutes

    def x(minute: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * (minute - from_minute) / (to_minute - from_minute)

    def y(level: float) -> float:
        share = log(level / lowest) / log(highest / lowest)
        return TOP + (HEIGHT - TOP - BOTTOM) * (1 - share)

    def drawn(points: Sequence[Point], width: float, dash: str = "") -> str:
        pairs = " ".join(f"{x(minute):.1f},{y(level):.1f}" for minute, level in points)
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        return f'<polyline points="{pairs}" fill="none" stroke="{INK}" stroke-width="{width:g}"{dashed}/>'

    parts = []
    for level in LEVELS:
        low = level == LEVELS[0]
        parts.append(line(LEFT, y(level), WIDTH - RIGHT, y(level), INK if low else RULE, 0.5 if low else 0.3))
        parts.append(text(LEFT - 3, y(level) + 3, words.level(level), LABEL, QUIET, "end"))
    for minute in HOURS:
        parts.append(line(x(minute), HEIGHT - BOTTOM, x(minute), HEIGHT - BOTTOM + 2.5, RULE, 0.5))
        parts.append(text(x(minute), HEIGHT - 2, words.number(minute), LABEL, QUIET, "middle"))
    free = 0.0
    for minute, grams in one.given:
        said = words.say("strips.unknown_grams") if grams is None else words.grams(grams)
        at = max(x(minute), free)
        free = at + len(said) * LABEL * 0.6 + 3
        parts.append(line(x(minute), TOP - 3, x(minute), HEIGHT - BOTTOM, INK, 0.4))
        parts.append(text(at, TOP - 5, said, LABEL + 0.5, INK, "middle", halo=True))
    parts += [drawn([p for p in one.untreated if p[0] >= 0], 1, "3 2")] if one.untreated else []
    parts += [drawn(piece, 1.4) for piece in one.trace if len(piece) > 1]
    return parts


def sheet_svg(pairs: Sequence[tuple[str, Paired]], review: PersonReview, words: Words, columns: int = 3) -> str:
    """Several pairings on one sheet of paper, each with its title above it."""
    title, gap = 12.0, 10.0
    parts = []
    for at, (name, one) in enumerate(pairs):
        left, top = (at % columns) * (WIDTH + gap), (at // columns) * (HEIGHT + title + gap)
        inner = "".join(pairing_parts(one, review, words))
        parts.append(text(left, top + 9, name, 9.5, INK))
        parts.append(f'<g transform="translate({left:.1f} {top + title:.1f})">{inner}</g>')
    rows = -(-len(pairs) // columns)
    return picture(columns * (WIDTH + gap) - gap, rows * (HEIGHT + title + gap), parts)
