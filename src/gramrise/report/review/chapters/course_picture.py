"""The course of one band's number, and below it on the same axis what else was logged and what changed."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import log
from typing import Final

from gramrise.report.review.chapters.blocks import Figure
from gramrise.report.review.numbers.view import Course, Happened, WeekLogged
from gramrise.report.style import INK, PAPER, QUIET, RULE
from gramrise.report.weekly.chapters.factor_picture import MARKS
from gramrise.report.weekly.chapters.svg import line, picture, text
from gramrise.report.words import Words

WIDTH: Final = 720.0
LEFT: Final = 118.0
RIGHT: Final = 12.0
TOP: Final = 16.0
HEIGHT: Final = 150.0
LANE: Final = 15.0
LABEL: Final = 9.0
MARK: Final = 8.5
ROOM: Final = 1.12  # our choice: the drawn range goes this far beyond the outermost number
FAR_OUT: Final = 2.0  # our choice: a single treatment this far beyond the numbers stands at the edge
WEEKS_TOGETHER: Final = 4  # our choice: a month's numerals have room beside the next month's
NEAR: Final = 9.0  # points between two numbers of events that would overlap
# Notes are many and stand in a table of their own; weighings bend the line of growth by themselves.
NOT_NUMBERED: Final = frozenset({"note", "weighed"})


@dataclass(frozen=True, slots=True)
class Axis:
    """Days to the right, and the number upward on a ratio scale."""

    first: date
    last: date
    lowest: float
    highest: float

    def x(self, day: date) -> float:
        share = (day - self.first).days / max(1, (self.last - self.first).days)
        return LEFT + (WIDTH - LEFT - RIGHT) * min(max(share, 0.0), 1.0)

    def y(self, value: float) -> float:
        inside = min(max(value, self.lowest), self.highest)
        return TOP + HEIGHT * (1 - log(inside / self.lowest) / log(self.highest / self.lowest))


def numbered(happened: Sequence[Happened]) -> tuple[tuple[str, Happened], ...]:
    """Events in order of time, each with the number under which it stands on the axis; '' for those that have none."""
    found = []
    count = 0
    for each in happened:
        count += each.code not in NOT_NUMBERED
        found.append(("" if each.code in NOT_NUMBERED else str(count), each))
    return tuple(found)


def course_picture(
    course: Course, weeks: Sequence[WeekLogged], happened: Sequence[Happened], last: date, words: Words
) -> Figure | None:
    """None where the band has no number in any week."""
    if not course.points:
        return None
    first = min([point.week for point in course.points] + [week.week for week in weeks] + _signed_on(course))
    axis = Axis(first, last, *_range(course))
    bottom = TOP + HEIGHT
    parts = _scale(axis, words, bottom) + _singles(course, axis) + _signed(course, axis, words)
    parts += _points(course, axis) + _change(course, axis, words, bottom)
    lanes, below = _lanes(weeks, axis, words, bottom + 18)
    events, below = _events(happened, axis, words, below)
    return Figure(
        svg=picture(WIDTH, below + 4, [*parts, *lanes, *events]),
        alt=_alt(course, words),
        caption=words.say("course.caption"),
    )


def _signed_on(course: Course) -> list[date]:
    return [course.signed_on] if course.signed_on else []


def _range(course: Course) -> tuple[float, float]:
    numbers = [v for p in course.points for v in (p.p05_mg_dl_per_g, p.p95_mg_dl_per_g)]
    numbers += [point.factor_mg_dl_per_g for point in course.growth]
    if course.signed:
        ends = (course.signed.p05_mg_dl_per_g, course.signed.p95_mg_dl_per_g)
        numbers += [value for value in ends if value is not None]
    singles = [value for _, value in course.singles]
    lowest = max(min([*numbers, *singles]), min(numbers) / FAR_OUT)
    highest = min(max([*numbers, *singles]), max(numbers) * FAR_OUT)
    return lowest / ROOM, highest * ROOM


def _scale(axis: Axis, words: Words, bottom: float) -> list[str]:
    """Hairlines at round numbers, months below."""
    parts = [text(0, TOP + 4, words.say("course.axis"), LABEL, QUIET)]
    for mark in MARKS:
        value = words.to_mg_dl(mark)
        if axis.lowest <= value <= axis.highest:
            y = axis.y(value)
            parts.append(line(LEFT, y, WIDTH - RIGHT, y, RULE, 0.3))
            parts.append(text(LEFT - 5, y + 3, words.mark(mark), MARK, QUIET, "end"))
    parts.append(line(LEFT, bottom, WIDTH - RIGHT, bottom, RULE, 0.6))
    months = _months(axis)
    step = max(1, round(len(months) / 13))
    for at, month in enumerate(months):
        parts.append(line(axis.x(month), bottom, axis.x(month), bottom + 3, RULE, 0.6))
        if at % step == 0 and axis.x(month) < WIDTH - RIGHT - 30:
            parts.append(text(axis.x(month), bottom + 12, words.day(month, "month"), MARK, QUIET))
    return parts


def _months(axis: Axis) -> list[date]:
    found = []
    month = date(axis.first.year, axis.first.month, 1)
    while month <= axis.last:
        if month >= axis.first:
            found.append(month)
        month = (month + timedelta(days=32)).replace(day=1)
    return found


def _singles(course: Course, axis: Axis) -> list[str]:
    """Each used treatment's own number as a small stroke."""
    return [
        line(axis.x(on) - 1.5, axis.y(value), axis.x(on) + 1.5, axis.y(value), QUIET, 0.8)
        for on, value in course.singles
    ]


def _points(course: Course, axis: Axis) -> list[str]:
    """Each week's number with its interval as an upright bar; the latest is set heavier."""
    parts = []
    for at, point in enumerate(course.points):
        x, heavy = axis.x(point.week), at == len(course.points) - 1
        width = 1.6 if heavy else 0.8
        parts.append(line(x, axis.y(point.p05_mg_dl_per_g), x, axis.y(point.p95_mg_dl_per_g), INK, width))
        radius = 3.2 if heavy else 2.2
        parts.append(f'<circle cx="{x:.1f}" cy="{axis.y(point.factor_mg_dl_per_g):.1f}" r="{radius}" fill="{INK}"/>')
    return parts


def _signed(course: Course, axis: Axis, words: Words) -> list[str]:
    """The signed number as an open square with its interval, and the dashed line that growth alone would draw."""
    signed, on = course.signed, course.signed_on
    if signed is None or on is None or signed.factor_mg_dl_per_g is None:
        return []
    x, y = axis.x(on), axis.y(signed.factor_mg_dl_per_g)
    parts = []
    if len(course.growth) > 1:
        pairs = " ".join(f"{axis.x(p.on):.1f},{axis.y(p.factor_mg_dl_per_g):.1f}" for p in course.growth)
        parts.append(f'<polyline points="{pairs}" fill="none" stroke="{INK}" stroke-width="1" stroke-dasharray="5 3"/>')
    if signed.p05_mg_dl_per_g is not None and signed.p95_mg_dl_per_g is not None:
        low, high = axis.y(signed.p05_mg_dl_per_g), axis.y(signed.p95_mg_dl_per_g)
        parts.append(line(x, low, x, high, INK, 0.9))
        parts += [line(x - 4, end, x + 4, end, INK, 0.9) for end in (low, high)]
    parts.append(
        f'<rect x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8" fill="{PAPER}" stroke="{INK}" stroke-width="1.3"/>'
    )
    at_right = x > WIDTH * 0.7
    said = words.say("course.signed", value=words.factor(signed.factor_mg_dl_per_g)[0], day=words.day(on, "brief"))
    parts.append(
        text(x - 7 if at_right else x + 7, TOP - 4, said, LABEL, INK, "end" if at_right else "start", halo=True)
    )
    return parts


def _change(course: Course, axis: Axis, words: Words, bottom: float) -> list[str]:
    """When the change probably came, as a bracket along the axis."""
    first, on, last = course.change_p05_on, course.change_on, course.change_p95_on
    if first is None or on is None or last is None:
        return []
    y = bottom - 5
    parts = [line(axis.x(first), y, axis.x(last), y, INK, 1.2)]
    parts += [line(axis.x(end), y - 3, axis.x(end), y + 3, INK, 1.2) for end in (first, last)]
    parts.append(line(axis.x(on), y - 6, axis.x(on), y + 4, INK, 2))
    middle = min(max(axis.x(on), LEFT + 60), WIDTH - RIGHT - 60)
    parts.append(
        text(middle, y - 9, words.say("course.change", day=words.day(on, "brief")), LABEL, INK, "middle", halo=True)
    )
    return parts


Lane = tuple[str, Callable[[WeekLogged], float | None], Callable[[float], str]]


def _lanes(weeks: Sequence[WeekLogged], axis: Axis, words: Words, top: float) -> tuple[list[str], float]:
    """Numerals of four weeks each under the axis, one line a kind; a kind that nobody logs is left out."""
    lanes: list[Lane] = [
        ("insulin", lambda week: week.insulin_units_a_day, lambda v: words.number(v, 0)),
        ("carbohydrate", lambda week: week.carbohydrate_g_a_day, lambda v: words.number(v, 0)),
        ("glucose", lambda week: week.glucose_g_a_day, lambda v: words.number(v, 1)),
        ("lows", lambda week: week.lows_n / week.days_n * 7, lambda v: words.number(v, 1)),
        ("logged", lambda week: week.lows_logged_n / week.lows_n if week.lows_n else None, words.percent),
        ("covered", lambda week: week.covered, words.percent),
    ]
    parts: list[str] = []
    for name, value, say in lanes:
        groups = [weeks[max(0, end - WEEKS_TOGETHER) : end] for end in range(len(weeks), 0, -WEEKS_TOGETHER)]
        told = [(group, [v for week in group if (v := value(week)) is not None]) for group in groups]
        if not any(values for _, values in told):
            continue
        top += LANE
        parts.append(text(0, top, words.say(f"course.lane.{name}"), LABEL, QUIET))
        for group, values in told:
            middle = axis.x(group[0].week + timedelta(days=sum(week.days_n for week in group) // 2))
            if values:
                parts.append(text(middle, top, say(sum(values) / len(values)), LABEL, INK, "middle"))
    return parts, top


def _events(happened: Sequence[Happened], axis: Axis, words: Words, top: float) -> tuple[list[str], float]:
    """What changed, by its number in the table below; numbers that would overlap go to a second and third line."""
    told = [(number, each) for number, each in numbered(happened) if number]
    if not told:
        return [], top
    top += LANE
    parts = [text(0, top, words.say("course.lane.changed"), LABEL, QUIET)]
    free = [LEFT - NEAR] * 3
    lowest = 0
    for number, each in told:
        x = axis.x(each.on)
        row = next((at for at, taken in enumerate(free) if x - taken >= NEAR), len(free) - 1)
        free[row], lowest = x, max(lowest, row)
        parts.append(line(x, top - 9 + row * 11, x, top - 12 + row * 11, INK, 0.8))
        parts.append(text(x, top + row * 11, number, MARK, INK, "middle"))
    return parts, top + lowest * 11


def _alt(course: Course, words: Words) -> str:
    first, last = course.points[0], course.points[-1]
    said = [
        words.say(
            "course.alt",
            band=words.band_and_hours(course.band, course.hours),
            first=words.factor(first.factor_mg_dl_per_g)[0],
            first_day=words.day(first.week, "brief"),
            last=words.factor(last.factor_mg_dl_per_g)[0],
            last_day=words.day(last.week, "brief"),
        )
    ]
    if course.signed and course.signed_on and course.signed.factor_mg_dl_per_g is not None:
        value = words.factor(course.signed.factor_mg_dl_per_g)[0]
        said.append(words.say("course.alt_signed", value=value, day=words.day(course.signed_on, "brief")))
    return " ".join(said)
