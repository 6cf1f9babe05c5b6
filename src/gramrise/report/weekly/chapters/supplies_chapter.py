"""Supplies in words: what is on hand, tins against the log, weak glucose, hours that bring more than their share."""

from datetime import date, timedelta
from typing import Final

from gramrise.report.weekly.chapters.document import Block, Bullets, Heading, Paragraph, Row, Table
from gramrise.report.weekly.chapters.treatment_tables import NOTHING
from gramrise.report.weekly.numbers.supplies_view import CountedDay, RepeatingView, StockView, SuppliesView, WeakView
from gramrise.report.weekly.numbers.view import WeeklyView
from gramrise.report.words import Words
from gramrise.supplies import StockState

WEEK: Final = 7
A_MONDAY: Final = date(2024, 1, 1)
WHOLE_DAY: Final = (0, 24)


def supplies_chapter(view: WeeklyView, words: Words) -> list[Block]:
    """Stock, counts and what repeats; nothing where nothing was counted, mixed or judged."""
    found = view.supplies
    if found is None:
        return []
    return [*_on_hand(found, words), *_counted(found, words), *_repeating(found, words)]


def _on_hand(found: SuppliesView, words: Words) -> list[Block]:
    if not (found.stock or found.weak):
        return []
    lines = (*(_stock(line, words) for line in found.stock), *(_weak(each, words) for each in found.weak))
    what = words.say("stock.what")
    if found.unnamed_grams:
        grams = words.grams(found.unnamed_grams)
        what += " " + words.say("stock.unnamed", grams=grams, days=found.unnamed_days)
    return [Heading(words.say("title.stock")), Bullets(lines), Paragraph(what, quiet=True)]


def _stock(line: StockView, words: Words) -> str:
    """'night bottle: about 410 mL on hand, mixed Mon 7 Dec. Enough until Thu 10 Dec at ... Mix by Thu 10 Dec.'"""
    if line.state == StockState.COUNT_AGAIN or line.on_hand is None:
        return words.say("stock.count_again", source=line.source)
    unit = "mL" if line.unit == "mL" else "pieces"
    amount = words.say(f"stock.{unit}", amount=words.number(line.on_hand))
    told = [words.say("stock.on_hand", source=line.source, amount=amount)]
    if line.mixed_on is not None and line.use_by is not None:
        mixed, use_by = words.day(line.mixed_on, "short"), words.day(line.use_by, "short")
        told = [words.say("stock.mixed", source=line.source, amount=amount, mixed=mixed, use_by=use_by)]
    if line.state == StockState.PAST_ITS_DAYS:
        return " ".join([*told, words.say("stock.past")])
    if line.lasts_until is not None and (line.use_by is None or line.lasts_until <= line.use_by):
        told.append(words.say("stock.enough", day=words.day(line.lasts_until, "short")))
    if line.state == StockState.ACT and line.act_by is not None:
        act = "mix" if line.home_mixed else "buy"
        told.append(words.say(f"stock.{act}", day=words.day(line.act_by, "short")))
    return " ".join(told)


def _weak(each: WeakView, words: Words) -> str:
    name = each.source
    if each.mixed_on is not None:
        name = words.say("weak.bottle", source=each.source, mixed=words.day(each.mixed_on, "short"))
    ends = (words.percent(ratio) for ratio in (each.ratio, each.low_ratio, each.high_ratio))
    shown = dict(zip(("share", "low", "high"), ends, strict=True))
    causes = words.say("weak.or").join(words.say(f"weak.cause.{cause}") for cause in each.causes)
    return words.say(
        "weak.found", name=name, count=each.uses, chance=words.chance(each.probability), causes=causes, **shown
    )


def _counted(found: SuppliesView, words: Words) -> list[Block]:
    if not found.days:
        return []
    title = words.say("title.counted")
    columns = ("day", "logged", "gone", "school_logged", "school_gone")
    head = tuple(words.say(f"counted.{name}") for name in columns)
    rows = (*(_counted_day(day, words) for day in found.days), _counted_week(found.days, words))
    return [
        Heading(title),
        Table(title, head, (False, True, True, True, True), rows),
        Paragraph(words.say("counted.what"), quiet=True),
    ]


def _counted_day(day: CountedDay, words: Words) -> Row:
    school = (day.school_logged_grams, day.school_gone_grams)
    cells = (NOTHING if grams is None else words.grams(grams) for grams in school)
    return Row((words.day(day.day, "short"), words.grams(day.logged_grams), words.grams(day.gone_grams), *cells))


def _counted_week(days: tuple[CountedDay, ...], words: Words) -> Row:
    sums = (
        sum(day.logged_grams for day in days),
        sum(day.gone_grams for day in days),
        sum(day.school_logged_grams or 0 for day in days),
        sum(day.school_gone_grams or 0 for day in days),
    )
    return Row((words.say("days.week"), *(words.grams(each) for each in sums)), total=True)


def _repeating(found: SuppliesView, words: Words) -> list[Block]:
    if not found.season_days:
        return []
    heading = Heading(words.say("title.repeating"))
    season = words.number(round(found.season_days / WEEK))
    if not found.repeating:
        return [heading, Paragraph(words.say("repeats.none", weeks=season))]
    return [
        heading,
        Bullets(tuple(_one_repeat(each, words) for each in found.repeating)),
        Paragraph(words.say("repeats.what", weeks=season)),
    ]


def _one_repeat(each: RepeatingView, words: Words) -> str:
    hours = f"{each.from_hour:02}:00–{each.to_hour:02}:00"
    at = words.say("repeats.hours", hours=hours)
    if each.weekday is not None:
        day = words.day(A_MONDAY + timedelta(days=each.weekday), "weekday")
        whole = (each.from_hour, each.to_hour) == WHOLE_DAY
        at = words.say("repeats.weekday", day=day) if whole else words.say("repeats.part", day=day, hours=hours)
    seen, expected = words.number(each.seen), words.number(each.expected, 1 if each.what == "lows" else 0)
    return words.say(f"repeats.{each.what}", at=at, seen=seen, expected=expected)
