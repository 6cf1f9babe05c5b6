"""Supplies in the report: worked by hand, in both languages, and nothing where nothing was counted."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from support.place_people import child, day_with_turns, inputs

from gramrise.domain.counts import ContainerCount
from gramrise.place import PlacedCount, Repeated, Repeating, Repeats, WeakCause, WeakGlucose
from gramrise.report.weekly.chapters.document import Bullets, Heading, Paragraph, Table, texts_of
from gramrise.report.weekly.chapters.supplies_chapter import supplies_chapter
from gramrise.report.weekly.numbers.supplies_view import SuppliesWeek, supplies_view
from gramrise.report.weekly.settings import DEFAULT
from gramrise.report.words import words_for
from gramrise.supplies import StockLine, StockState

# The child's trace is of Monday 2 March 2026; the week is that of the seven local days before Sunday the 8th.
SUNDAY = date(2026, 3, 8)
UTC_ZONE = ZoneInfo("UTC")


class ViewOf:
    """As much of a weekly view as the chapter looks at."""

    def __init__(self, supplies):
        self.supplies = supplies


def tin(day, begin, end, grams):
    at = [datetime(2026, 3, day, hour, tzinfo=UTC) for hour in (begin, end)]
    return PlacedCount(ContainerCount("mia", "tin", "candy", *at, 20, 10), 0.0, 4, grams, (), None)


def line(state=StockState.ENOUGH, **changes):
    plain = StockLine("candy", "piece", False, state, 45.0, 3.0, date(2026, 3, 23), None, date(2026, 3, 16))
    return replace(plain, **changes)


def view(week, doses=()):
    return supplies_view(inputs(day_with_turns(), doses), week, SUNDAY, UTC_ZONE, DEFAULT)


def told(week, language="en", doses=()):
    words = words_for(language, "mg/dL", "UTC")
    blocks = supplies_chapter(ViewOf(view(week, doses)), words)
    return " ".join(text for block in blocks for text in texts_of(block)).replace("\xa0", " ")


def test_nothing_counted_mixed_or_judged_is_nothing_said():
    week = SuppliesWeek(stock=[line(StockState.NOT_COUNTED, on_hand=None)], repeated=Repeated(False, 20))
    assert view(week) is None
    assert supplies_chapter(ViewOf(None), words_for("en", "mg/dL", "UTC")) == []


def test_grams_logged_and_grams_gone_stand_apart_by_day_and_by_school_day():
    # 3 g were logged at 08:00 and 2 g at 18:20. Monday's tin was counted after school, Tuesday's at night, and
    # Wednesday's on Thursday.
    week = SuppliesWeek(placed=[tin(2, 7, 16, 4.0), tin(3, 7, 22, 5.0), replace_days(tin(4, 7, 9, 1.5))])
    found = view(week, doses=[(60, 3.0), (680, 2.0)])
    assert [day.day for day in found.days] == [date(2026, 3, 1) + timedelta(days=n) for n in range(7)]
    by_day = {day.day.day: day for day in found.days}
    assert (by_day[2].logged_grams, by_day[2].gone_grams) == (5.0, 4.0)
    assert (by_day[2].school_logged_grams, by_day[2].school_gone_grams) == (3.0, 4.0)
    assert (by_day[3].gone_grams, by_day[3].school_gone_grams) == (5.0, 0.0)
    assert (by_day[5].gone_grams, by_day[5].school_gone_grams) == (1.5, 0.0)
    assert by_day[1].school_logged_grams is None  # a Sunday


def replace_days(placed):
    over = replace(placed.count, to_utc=placed.count.to_utc + timedelta(days=1))
    return replace(placed, count=over)


def test_a_week_without_a_count_has_no_table_of_counts():
    week = SuppliesWeek(stock=[line()], placed=[tin(9, 7, 16, 4.0)])
    assert view(week).days == ()
    assert "Gone" not in told(week)


@pytest.mark.parametrize(
    ("stock", "sentence"),
    [
        (line(), "candy: about 45 pieces on hand. Enough until Mon 23 Mar at the usual pace."),
        (line(StockState.ACT), "at the usual pace. Buy by Mon 16 Mar."),
        (line(StockState.COUNT_AGAIN, on_hand=None), "candy: more was taken than was there. Count again"),
        (line(StockState.ACT, unit="mL", home_mixed=True), "Enough until Mon 23 Mar at the usual pace. Mix by"),
        (line(StockState.PAST_ITS_DAYS), "It is past its days: pour it away and mix anew."),
    ],
)  # fmt: skip
def test_stock_says_until_when_it_lasts_and_by_when_to_act(stock, sentence):
    assert sentence in told(SuppliesWeek(stock=[stock]))


def test_what_is_on_hand_says_what_it_counts_and_what_it_cannot_count_down():
    words = told(SuppliesWeek(stock=[line()], unnamed_grams=52.0, unnamed_days=28))
    assert "tins and bags included" in words
    assert "52 g of the last 28 days are logged without a source" in words


def test_hours_that_repeat_are_raised_with_the_clinic_and_say_nothing_of_insulin():
    found = (
        Repeating(Repeats.LOWS, None, 22, 1, 29.0, 8.5, 91, 0.0004),
        Repeating(Repeats.GRAMS, 1, 16, 20, 97.4, 34.3, 13, 0.0008),
        Repeating(Repeats.LOWS, 5, 0, 24, 20.0, 8.0, 13, 0.0008),
    )
    words = told(SuppliesWeek(repeated=Repeated(True, 91, found)))
    assert "Lows, 22:00–01:00, whatever the day: 29, where the own average would give 8.5." in words
    assert "Grams of glucose, Tuesdays, 16:00–20:00: 97, where the own average would give 34." in words
    assert "Lows, Saturdays: 20" in words
    assert "over 13 weeks" in words
    assert "Raise it with the clinic" in words
    assert "insulin" not in words.lower()
    german = told(SuppliesWeek(repeated=Repeated(True, 91, found)), "de")
    assert "Gramm Traubenzucker, Dienstag, 16:00–20:00 Uhr: 97" in german
    assert "mit dem Team besprechen" in german


def test_that_nothing_repeats_is_said_too():
    assert "no hours and no weekday" in told(SuppliesWeek(repeated=Repeated(True, 91)))


def test_weak_glucose_is_told_with_its_chance_and_what_to_check_and_never_without_a_verdict():
    causes = (WeakCause.MONOHYDRATE, WeakCause.OVERFILLED)
    weak = WeakGlucose("bottle", None, 40, 90, 0.62, 0.5, 0.78, 0.97, True, causes)
    words = told(SuppliesWeek(stock=[line()], weak=[weak, replace(weak, source="gel", weak=False)]))
    assert (
        "bottle: 1 g of it seems to raise 62% of what 1 g of the other glucose raises (likely 50% to 78%; 40 uses"
        in words
    )
    assert "97" in words
    assert "monohydrate, which holds 9 % less, or was more water filled in" in words
    assert "gel" not in words


def test_both_languages_have_every_word_of_every_block():
    causes = tuple(WeakCause)
    found = (Repeating(Repeats.LOWS, None, 22, 1, 29.0, 8.5, 91, 0.0004),)
    week = SuppliesWeek(
        stock=[line(state) for state in StockState if state is not StockState.NOT_COUNTED],
        placed=[tin(2, 7, 16, 4.0)],
        weak=[WeakGlucose("bottle", None, 40, 90, 0.62, 0.5, 0.78, 0.97, True, causes)],
        repeated=Repeated(True, 91, found),
        unnamed_grams=5.0,
        unnamed_days=28,
    )
    blocks = {
        language: supplies_chapter(ViewOf(view(week)), words_for(language, "mg/dL", "UTC")) for language in ("en", "de")
    }
    kinds = [Heading, Bullets, Paragraph, Heading, Table, Paragraph, Heading, Bullets, Paragraph]
    for language in ("en", "de"):
        assert [type(block) for block in blocks[language]] == kinds
    assert {text for block in blocks["en"] for text in texts_of(block)}.isdisjoint({"stock.what", "counted.what"})
    assert child().person_id == "mia"
