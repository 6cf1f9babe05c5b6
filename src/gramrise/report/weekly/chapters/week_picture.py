"""The pictures of the report, as SVG with text as text: the week in strips from noon to noon.

Lengths are points. A picture comes in two shapes: `WIDE` for paper, `NARROW` for mail and small screens.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import log
from typing import Final

from gramrise.report.style import INK, QUIET, RULE, TINT
from gramrise.report.weekly.chapters.document import Picture
from gramrise.report.weekly.chapters.svg import line, picture, text
from gramrise.report.weekly.numbers.view import Point, Strip, WeeklyView
from gramrise.report.weekly.settings import DEFAULT, ReportSettings
from gramrise.report.words import Words

LOW_LINE: Final = 70.0  # the one line of the strips, mg/dL; consensus bound of a low
MARKED_LEVELS: Final = (70.0, 140.0, 280.0)  # each twice the one before: equal steps on the ratio scale
NUMERAL_POINTS: Final = 8.5
LABEL_POINTS: Final = 7.5
ABOVE_GAP: Final = 2.0  # between the top of a strip and the mark of levels above it
NUMERAL_GAP: Final = 2.0
NUMERAL_WIDTH: Final = 0.55  # of the point size, a figure's width in the book face


@dataclass(frozen=True, slots=True)
class Shape:
    width: float
    left: float  # room for the day beside the strip; 0: the day stands above it
    right: float
    height: float  # of one strip's drawing
    between: float
    label: float  # height of a day's label above the strip


WIDE: Final = Shape(width=482, left=58, right=20, height=42, between=10, label=0)
NARROW: Final = Shape(width=340, left=0, right=23, height=50, between=9, label=13)
HOURS_ROW: Final = 11.0


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where one strip lies: x by minutes, y by level on a ratio scale."""

    shape: Shape
    top: float
    minutes: float
    lowest: float
    highest: float

    def x(self, minute: float) -> float:
        shape = self.shape
        return shape.left + (shape.width - shape.left - shape.right) * minute / self.minutes

    def y(self, level: float) -> float:
        share = log(level / self.lowest) / log(self.highest / self.lowest)
        return self.top + self.shape.height * (1 - share)

    @property
    def bottom(self) -> float:
        return self.top + self.shape.height


def week_picture(view: WeeklyView, words: Words, settings: ReportSettings = DEFAULT) -> Picture:
    """The seven strips. The alternative text tells each night's lows and grams."""
    return Picture(
        name="week",
        svg=_week_svg(view, words, WIDE, settings),
        narrow_svg=_week_svg(view, words, NARROW, settings),
        alt=week_alt(view, words),
        caption=words.say(
            "strips.caption",
            **{name: words.level(level) for name, level in zip(("low", "middle", "high"), MARKED_LEVELS, strict=True)},
            top=words.level(settings.strip_highest_mg_dl),
            night=words.band_and_hours(view.night_band, view.night_hours),
        ),
    )


def week_alt(view: WeeklyView, words: Words) -> str:
    told = []
    for day, strip in zip(view.days, view.strips, strict=True):
        lows = words.say("strips.night_lows", count=day.lows_n)
        if not strip.trace:
            lows = words.say("strips.night_no_readings")
        grams = words.say("strips.night_grams", grams=words.grams(day.grams))
        told.append(words.say("strips.night_alt", day=words.day(day.begins, "short"), lows=lows, grams=grams))
    return words.say("strips.alt", nights=" ".join(told))


def _week_svg(view: WeeklyView, words: Words, shape: Shape, settings: ReportSettings) -> str:
    parts: list[str] = []
    top = HOURS_ROW
    for index, strip in enumerate(view.strips):
        top += shape.label
        frame = _Frame(shape, top, max(1.0, strip.minutes), settings.strip_lowest_mg_dl, settings.strip_highest_mg_dl)
        parts += _strip_parts(strip, frame, words)
        if index == 0:
            parts += _hours(strip, frame, top - shape.label - 3)
        if strip.clock_changes or index == len(view.strips) - 1:
            parts += _hours(strip, frame, frame.bottom + 8.5)
        top += shape.height + shape.between
    height = top - shape.between + HOURS_ROW
    return picture(shape.width, height, parts)


def _strip_parts(strip: Strip, frame: _Frame, words: Words) -> list[str]:
    left, right = frame.x(0), frame.x(frame.minutes)
    parts = [_tint(frame, a, b) for a, b in strip.night]
    parts += [
        line(frame.x(t.minute), frame.bottom - 2.5, frame.x(t.minute), frame.bottom, RULE, 0.5) for t in strip.ticks
    ]
    parts.append(line(left, frame.bottom, right, frame.bottom, RULE, 0.4))
    parts.append(line(left, frame.y(LOW_LINE), right, frame.y(LOW_LINE), INK, 0.45))
    parts += _day_label(strip, frame, words)
    parts += [text(right + 3, frame.y(v) + 2.5, words.level(v), LABEL_POINTS, QUIET) for v in MARKED_LEVELS]
    if not strip.trace:
        middle = (left + right) / 2
        parts.append(text(middle, frame.y(110), words.say("strips.night_no_readings"), 9, QUIET, "middle", italic=True))
    parts += [_curve(path, frame, 0.7, dashed=True) for path in strip.paths]
    parts += [_curve(piece, frame, 0.8) for piece in strip.trace]
    parts += [_curve(piece, frame, 1.9) for piece in _within(strip.trace, strip.lows)]
    parts += [_above(frame, a, b) for a, b in strip.above]
    return parts + _numerals(strip, frame, words)


def _tint(frame: _Frame, start: float, end: float) -> str:
    x, width = frame.x(start), frame.x(end) - frame.x(start)
    return f'<rect x="{x:.1f}" y="{frame.top:.1f}" width="{width:.1f}" height="{frame.shape.height:g}" fill="{TINT}"/>'


def _above(frame: _Frame, start: float, end: float) -> str:
    """A second line over the trace where it runs along the top because the level is higher than what is drawn."""
    left = frame.x(start)
    return line(left, frame.top - ABOVE_GAP, max(frame.x(end), left + ABOVE_GAP), frame.top - ABOVE_GAP, INK, 0.8)


def _day_label(strip: Strip, frame: _Frame, words: Words) -> list[str]:
    first = words.day(strip.begins, "short")
    last = words.day(words.local_date(strip.to_utc), "short")
    if frame.shape.label:
        return [text(0, frame.top - 3.5, f"{first} – {last}", 9, INK)]
    return [
        text(0, frame.top + 12, first, 9, INK),
        text(0, frame.top + 24, f"– {last}", 9, QUIET),
    ]


def _hours(strip: Strip, frame: _Frame, baseline: float) -> list[str]:
    last = max((tick.minute for tick in strip.ticks), default=0.0)
    return [
        text(
            frame.x(tick.minute),
            baseline,
            f"{tick.hour:02d}",
            LABEL_POINTS,
            QUIET,
            "start" if tick.minute == 0 else "end" if tick.minute == last else "middle",
        )
        for tick in strip.ticks
    ]


def _numerals(strip: Strip, frame: _Frame, words: Words) -> list[str]:
    """Grams at the top of the strip with a hairline down to the time of the dose; near ones are set side by side."""
    unknown = words.say("strips.unknown_grams")
    grams = [unknown if dose.grams is None else words.grams(dose.grams) for dose in strip.doses]
    at = [frame.x(dose.minute) for dose in strip.doses]
    halves = [len(one) * NUMERAL_POINTS * NUMERAL_WIDTH / 2 for one in grams]
    parts: list[str] = []
    for where, centre, one in zip(at, _side_by_side(at, halves, frame), grams, strict=True):
        parts.append(line(where, frame.top + 9.5, where, frame.bottom, INK, 0.35))
        parts.append(line(centre, frame.top + 7.5, where, frame.top + 9.5, INK, 0.35))
        parts.append(text(centre, frame.top + 6.5, one, NUMERAL_POINTS, INK, "middle", halo=True))
    return parts


def _side_by_side(at: list[float], halves: list[float], frame: _Frame) -> list[float]:
    """Centres as near to `at` as they can be without touching: pushed right first, then back from the right edge."""
    centres: list[float] = []
    free_from = frame.x(0)
    for where, half in zip(at, halves, strict=True):
        centres.append(max(where, free_from + half))
        free_from = centres[-1] + half + NUMERAL_GAP
    free_to = frame.x(frame.minutes)
    for i in range(len(at) - 1, -1, -1):
        centres[i] = min(centres[i], free_to - halves[i])
        free_to = centres[i] - halves[i] - NUMERAL_GAP
    return centres


def _within(trace: Iterable[tuple[Point, ...]], lows: tuple[tuple[float, float], ...]) -> list[tuple[Point, ...]]:
    """The parts of the trace that lie in a low."""
    found = [tuple(p for p in piece if start <= p[0] <= end) for piece in trace for start, end in lows]
    return [points for points in found if points]


def _curve(points: tuple[Point, ...], frame: _Frame, width: float, *, dashed: bool = False) -> str:
    if len(points) == 1:
        minute, level = points[0]
        return f'<circle cx="{frame.x(minute):.1f}" cy="{frame.y(level):.1f}" r="{max(0.8, width / 2):g}"/>'
    pairs = " ".join(f"{frame.x(minute):.1f},{frame.y(level):.1f}" for minute, level in points)
    dash = ' stroke-dasharray="2.2 1.6"' if dashed else ""
    drawn = f'fill="none" stroke="{INK}" stroke-width="{width:g}" stroke-linejoin="round"{dash}'
    return f'<polyline points="{pairs}" {drawn}/>'
