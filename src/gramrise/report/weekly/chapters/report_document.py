"""The chapters behind page 1: the week in strips, the factors, day by day, what the number rests on, cautions."""

from datetime import timedelta
from textwrap import shorten
from typing import Final
from zoneinfo import ZoneInfo

from gramrise.domain.person import Dated
from gramrise.report.weekly.chapters.document import Block, Bullets, Document, Heading, Paragraph, Row, Table
from gramrise.report.weekly.chapters.factor_picture import ladder_picture
from gramrise.report.weekly.chapters.page_one import page_one
from gramrise.report.weekly.chapters.supplies_chapter import supplies_chapter
from gramrise.report.weekly.chapters.treatment_tables import (
    LOW_BELOW,
    NOTHING,
    annex_chapter,
    given_chapter,
    lows_chapter,
)
from gramrise.report.weekly.chapters.week_picture import week_picture
from gramrise.report.weekly.numbers.view import Change, Day, FactorView, WeeklyView
from gramrise.report.weekly.settings import DEFAULT, ReportSettings
from gramrise.report.words import Words, words_for

# Our choice: a longer name would push the footer into the text.
FOOTER_LETTERS: Final = 40


def document_of(view: WeeklyView, settings: ReportSettings = DEFAULT) -> Document:
    """The report in words: page 1, then the week, the lows, the days and what must be said with the number."""
    words = words_of(view)
    return Document(
        language=words.language,
        **_frame(view, words),
        blocks=(
            *page_one(view, words, settings),
            *_week(view, words),
            *_factors(view, words),
            *lows_chapter(view, words),
            *given_chapter(view, words, settings),
            *_days(view, words),
            *supplies_chapter(view, words),
            *_rests(view, words),
            *annex_chapter(view, words, settings),
        ),
    )


def _frame(view: WeeklyView, words: Words) -> dict[str, str]:
    """What stands around the chapters: the head of page 1 and the foot of every page."""
    name = view.name or view.person_id
    first, last = words.day(view.strips[0].begins, "short"), words.day(view.week_end, "dated")
    written = words.day(words.local_date(view.written_at_utc), "medium")
    brief = words.day(view.week_end, "brief")
    open_still = view.written_at_utc < view.to_utc
    return {
        "title": words.say("title.document", name=name, day=words.day(view.week_end, "medium")),
        "kicker": words.say("title.report"),
        "name": name,
        "subtitle": words.say("title.nights_open" if open_still else "title.nights", first=first, last=last),
        "written": words.say(
            "title.written",
            born=words.day(view.born, "medium"),
            day=written,
            clock=words.clock(view.written_at_utc),
        ),
        "footer": words.say("title.footer", name=shorten(name, FOOTER_LETTERS, placeholder="…"), day=brief),
        "footer_caution": words.say("title.footer_caution"),
        "page": words.say("title.page", page="{page}", pages="{pages}"),
    }


def words_of(view: WeeklyView) -> Words:
    """Words of the report's person; each instant is told on the clock of the place where they were."""
    zones = Dated(tuple((each.from_on, ZoneInfo(each.zone)) for each in view.zones))
    return words_for(view.language, view.unit, view.zone, zones)


def _week(view: WeeklyView, words: Words) -> list[Block]:
    journey = view.zones[1:]
    arrived = {each.from_on - timedelta(days=1) for each in journey}  # the night before has hours of its own, too
    remarks = [
        words.say("strips.clock_changes", day=words.day(strip.begins, "short"))
        for strip in view.strips
        if strip.clock_changes and strip.begins not in arrived
    ]
    remarks += [
        words.say("title.zone_changed", day=words.day(each.from_on, "short"), zone=each.zone) for each in journey
    ]
    return [
        Heading(words.say("title.week"), new_page=True),
        week_picture(view, words),
        *(Paragraph(text, quiet=True) for text in remarks),
    ]


def _factors(view: WeeklyView, words: Words) -> list[Block]:
    title = words.say("title.factors")
    columns = ("band", "factor", "likely", "used", "table", "state")
    head = tuple(words.say(f"column.{name}") for name in columns)
    rows = tuple(_factor_row(factor, words) for factor in view.factors)
    blocks: list[Block] = [Heading(title), Table(title, head, (False, True, True, True, True, False), rows)]
    ladder = ladder_picture(view, words)
    blocks += [ladder] if ladder else []
    remarks = " ".join(_factor_remarks(view, words))
    return [*blocks, Paragraph(remarks, quiet=True)] if remarks else blocks


def _factor_remarks(view: WeeklyView, words: Words) -> list[str]:
    said = [_change(change, view, words) for change in view.changes if change.band]
    if view.reference_grams is not None:
        said.append(words.say("factors.unit_note", grams=words.number(view.reference_grams, 1)))
    of = next((factor for factor in view.factors if factor.weight_kg is not None), None)
    if of is not None and of.weight_kg is not None:
        note = "table_note_estimated" if of.weight_estimated else "table_note"
        said.append(words.say(f"factors.{note}", kg=words.number(of.weight_kg, 1)))
    if view.predictions:
        said.append(words.say("factors.predictions", seen=view.predictions.seen, inside=view.predictions.inside))
    return said


def _change(change: Change, view: WeeklyView, words: Words) -> str:
    now, before = words.factor(change.now or 0.0, change.before or 0.0)
    band = words.band_and_hours(change.band, view.hours_of(change.band))
    return words.say(f"change.{change.code}", band=band, now=now, before=before)


def _factor_row(factor: FactorView, words: Words) -> Row:
    middle = likely = table = NOTHING
    if factor.known:
        middle, low, high, _ = words.factor(*factor.numbers)
        likely, table = f"{low}–{high}", words.factor(factor.numbers[-1])[0]
    hours = words.band_and_hours(factor.band, factor.hours)
    used = words.number(factor.pairings_used)
    return Row((hours, middle, likely, used, table, words.say(f"state.{factor.state}")))


def _days(view: WeeklyView, words: Words) -> list[Block]:
    title = words.say("title.days")
    bands = [words.band_and_hours(one.band, one.hours) for one in view.days[0].grams_by_band]
    head = (
        words.say("column.day"),
        *(words.say("days.band_grams", band=band) for band in bands),
        *(words.say(f"column.{name}") for name in ("total", "lows", "covered", "gap")),
    )
    rows = (*(_day_row(day, words) for day in view.days), _week_row(view, words))
    right = (False, *[True] * (len(head) - 1))
    return [
        Heading(title),
        Table(title, head, right, rows),
        *(Paragraph(t, quiet=True) for t in _day_remarks(view, words)),
    ]


def _day_row(day: Day, words: Words) -> Row:
    return Row(
        (
            words.day(day.begins, "short"),
            *(words.grams(one.grams) for one in day.grams_by_band),
            words.grams(day.grams),
            words.number(day.lows_n),
            words.percent(day.covered),
            _length(day.longest_gap_minutes, words),
        )
    )


def _week_row(view: WeeklyView, words: Words) -> Row:
    by_band = zip(*(day.grams_by_band for day in view.days), strict=True)
    cells = (
        words.say("days.week"),
        *(words.grams(sum(one.grams for one in band)) for band in by_band),
        words.grams(sum(day.grams for day in view.days)),
        words.number(sum(day.lows_n for day in view.days)),
        words.percent(view.coverage.covered),
        _length(max(day.longest_gap_minutes for day in view.days), words),
    )
    return Row(cells, total=True)


def _length(minutes: float, words: Words) -> str:
    whole = round(minutes)
    if whole < 60:
        return words.say("days.minutes", minutes=whole)
    if whole % 60 == 0:
        return words.say("days.whole_hours", hours=whole // 60)
    return words.say("days.hours", hours=whole // 60, minutes=whole % 60)


def _day_remarks(view: WeeklyView, words: Words) -> list[str]:
    said = []
    if view.coverage.usual_step_minutes is not None:
        said.append(words.say("days.step", minutes=round(view.coverage.usual_step_minutes)))
    if view.coverage.fingers_n:
        said.append(words.say("days.fingers", count=view.coverage.fingers_n))
    return said


def _rests(view: WeeklyView, words: Words) -> list[Block]:
    weaker = ", ".join(name for name in view.weaker_sources if name) or words.say("rests.some_glucose")
    rests = tuple(words.say(f"rests.{code}", level=words.level(60), sources=weaker) for code in view.rests_on)
    if view.log_next:
        rests = (*rests, words.told("log_next", view.log_next))
    cautions = tuple(words.say(f"caution.{code}", level=words.level(LOW_BELOW)) for code in view.cautions)
    return [
        Heading(words.say("title.rests")),
        Paragraph(" ".join(rests)),
        Heading(words.say("title.cautions")),
        Bullets(cautions, close=True),
    ]
