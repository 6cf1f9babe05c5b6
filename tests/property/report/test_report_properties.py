"""What must hold of every report, whatever the week was like."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import polars as pl
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from support.report_people import BORN, NOW, WEEK_END, a_week, everyone, person

from gramrise.domain.person import Dated
from gramrise.domain.units import GlucoseUnit
from gramrise.report.weekly.chapters.report_document import document_of
from gramrise.report.weekly.numbers.build import weekly_view
from gramrise.report.weekly.numbers.nights import nights_to
from gramrise.report.weekly.numbers.treatment_rows import worst_first
from gramrise.report.weekly.pages.html import render_html
from gramrise.report.weekly.pages.plain_text import render_text
from gramrise.report.words import words_for

ZONES = (
    "Europe/Berlin",
    "America/Chicago",
    "Pacific/Kiritimati",
    "Pacific/Auckland",
    "Asia/Kolkata",
    "America/St_Johns",
)
LOWS = everyone()["german_mmol_60_lows"].view()
EVERY_LOW = (*LOWS.lows, *LOWS.lows_annex)
few = settings(max_examples=12, deadline=None, phases=[Phase.explicit, Phase.reuse, Phase.generate])


@given(st.dates(date(2000, 1, 1), date(2035, 1, 1)), st.sampled_from(ZONES))
def test_seven_nights_follow_each_other_without_gap_or_overlap_on_every_calendar(week_end, zone):
    nights = nights_to(week_end, Dated(((date.min, ZoneInfo(zone)),)))
    assert len(nights) == 7
    assert all(a.to_utc == b.from_utc for a, b in pairwise(nights))
    assert {night.from_utc.astimezone(ZoneInfo(zone)).hour for night in nights} == {12}
    assert all(22 * 60 <= night.minutes <= 26 * 60 for night in nights)


@given(st.permutations(EVERY_LOW), st.integers(1, 12))
def test_which_lows_have_a_row_does_not_hang_on_their_order_and_none_is_lost(lows, most):
    worst, rest = worst_first(tuple(lows), most)
    assert (worst, rest) == worst_first(EVERY_LOW, most)
    assert len(worst) == most
    assert sorted((*worst, *rest), key=lambda low: low.start_utc) == list(EVERY_LOW_BY_TIME)


EVERY_LOW_BY_TIME = tuple(sorted(EVERY_LOW, key=lambda low: low.start_utc))


@given(st.floats(0.01, 400), st.sampled_from([("en", "mg/dL"), ("de", "mmol/L")]))
def test_a_printed_rise_is_within_the_rounding_of_two_figures(mg_dl_per_g, place):
    words = words_for(*place, "UTC")
    (printed,) = words.factor(mg_dl_per_g)
    value = words.to_mg_dl(
        float(printed.replace(".", "").replace(",", ".") if place[0] == "de" else printed.replace(",", ""))
    )
    assert abs(value / mg_dl_per_g - 1) <= 0.051


@given(name=st.text(max_size=60), text=st.text(max_size=80))
@few
def test_whatever_a_name_or_a_log_holds_it_stays_text(name, text):
    inputs, found = a_week(person(name=name), low_hours=(14.2,))
    doses = inputs.doses.with_columns(pl.lit(text).alias("source"))
    treatments = found.treatments.with_columns(pl.lit([text]).alias("sources"))
    view = weekly_view(
        replace(inputs, doses=doses), replace(found, treatments=treatments), week_end=WEEK_END, now_utc=NOW
    )
    html = render_html(view)
    assert set(re.findall(r"<(\w+)", re.sub(r"<svg.*?</svg>", "", html, flags=re.S))) <= {
        "html", "head", "meta", "title", "body", "main", "p", "h1", "h2", "bdi", "div", "span", "b", "ul", "li",
        "table", "thead", "tbody", "tr", "th", "td", "figure", "figcaption", "style",
    }  # fmt: skip
    assert html.count("<style") == 1  # our own
    assert all(len(line) <= 78 for line in render_text(view).splitlines())


@given(
    hours=st.lists(st.floats(1, 166), max_size=30, unique_by=int),
    unit=st.sampled_from(GlucoseUnit),
    language=st.sampled_from(["en", "de"]),
    zone=st.sampled_from(ZONES),
    back=st.integers(0, 400),
)
@few
def test_every_week_of_every_person_gives_a_report_whose_numbers_add_up(hours, unit, language, zone, back):
    who = person(unit=unit, language=language, zone=Dated(((BORN, ZoneInfo(zone)),)))
    week_end = WEEK_END - timedelta(days=back)
    inputs, found = a_week(who, low_hours=tuple(sorted(hours)), week_end=week_end)
    now = datetime(week_end.year, week_end.month, week_end.day, 23, tzinfo=UTC)
    view = weekly_view(inputs, found, week_end=week_end, now_utc=now)
    lows = sum(day.lows_n for day in view.days)
    assert lows == len(view.lows) + len(view.lows_annex)
    assert len(view.lows) <= 12
    assert all(0 <= day.covered <= 1 for day in view.days)
    texts = document_of(view).texts()
    assert {"mg/dL": "mmol/L", "mmol/L": "mg/dL"}[view.unit] not in " ".join(texts)
    assert [text for text in texts if re.search(r"[{}]|\bnan\b|\binf\b", text)] == []
