"""One pairing as a small trace: readings, where the level was heading, and the grams at their instants."""

from collections.abc import Sequence
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True)
class TraceFrame:
    """Scale and marks that all traces of a person share, so that they can be compared at a glance; drawn once."""

    review: PersonReview
    words: Words
    marks: str

    @classmethod
    def of(cls, review: PersonReview, words: Words) -> "TraceFrame":
        frame = cls(review, words, "")
        parts = []
        for level in LEVELS:
            y, low = frame.y(level), level == LEVELS[0]
            parts.append(line(LEFT, y, WIDTH - RIGHT, y, INK if low else RULE, 0.5 if low else 0.3))
            parts.append(text(LEFT - 3, y + 3, words.level(level), LABEL, QUIET, "end"))
        for minute in HOURS:
            x = frame.x(minute)
            parts.append(line(x, HEIGHT - BOTTOM, x, HEIGHT - BOTTOM + 2.5, RULE, 0.5))
            parts.append(text(x, HEIGHT - 2, words.number(minute), LABEL, QUIET, "middle"))
        return cls(review, words, "".join(parts))

    def x(self, minute: float) -> float:
        first, last = self.review.trace_from_minutes, self.review.trace_to_minutes
        return LEFT + (WIDTH - LEFT - RIGHT) * (minute - first) / (last - first)

    def y(self, level: float) -> float:
        lowest, highest = self.review.trace_lowest_mg_dl, self.review.trace_highest_mg_dl
        return TOP + (HEIGHT - TOP - BOTTOM) * (1 - log(level / lowest) / log(highest / lowest))

    def svg(self, one: Paired) -> str:
        return picture(WIDTH, HEIGHT, [self.drawing(one)])

    def drawing(self, one: Paired) -> str:
        """Marks, grams at their instants, where the level was heading, and the readings."""
        parts = [self.marks]
        free = 0.0
        for given_at, grams in one.given:
            said = self.words.say("strips.unknown_grams") if grams is None else self.words.grams(grams)
            x = self.x(given_at)
            at = max(x, free)
            free = at + len(said) * LABEL * 0.6 + 3
            parts.append(line(x, TOP - 3, x, HEIGHT - BOTTOM, INK, 0.4))
            parts.append(text(at, TOP - 5, said, LABEL + 0.5, INK, "middle", halo=True))
        heading = [point for point in one.untreated if point[0] >= 0]
        parts += [self._curve(heading, 1, "3 2")] if heading else []
        parts += [self._curve(piece, 1.4) for piece in one.trace if len(piece) > 1]
        return "".join(parts)

    def _curve(self, points: Sequence[Point], width: float, dash: str = "") -> str:
        pairs = " ".join(f"{self.x(minute):.1f},{self.y(level):.1f}" for minute, level in points)
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        return f'<polyline points="{pairs}" fill="none" stroke="{INK}" stroke-width="{width:g}"{dashed}/>'


def sheet_svg(pairs: Sequence[tuple[str, Paired]], review: PersonReview, words: Words, columns: int = 3) -> str:
    """Several pairings on one sheet of paper, each with its title above it."""
    title, gap = 12.0, 10.0
    frame = TraceFrame.of(review, words)
    parts = []
    for at, (name, one) in enumerate(pairs):
        left, top = (at % columns) * (WIDTH + gap), (at // columns) * (HEIGHT + title + gap)
        inner = frame.drawing(one)
        parts.append(text(left, top + 9, name, 9.5, INK))
        parts.append(f'<g transform="translate({left:.1f} {top + title:.1f})">{inner}</g>')
    rows = -(-len(pairs) // columns)
    return picture(columns * (WIDTH + gap) - gap, rows * (HEIGHT + title + gap), parts)
