"""The printed report: it holds the view's words, on the right paper, tagged, with its fonts, and nothing runs over."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from io import BytesIO
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from pypdf import PdfReader
from support.report_people import Case, a_week, everyone, person

from gramrise.domain.person import Dated
from gramrise.report.weekly.chapters.document import Heading, Picture
from gramrise.report.weekly.chapters.report_document import document_of
from gramrise.report.weekly.pages.pdf import render_pdf

PEOPLE = everyone()
MM = 72 / 25.4


@pytest.fixture(scope="module")
def printed():
    made = {}

    def _printed(name, paper="a4"):
        if (name, paper) not in made:
            made[name, paper] = PdfReader(BytesIO(render_pdf(PEOPLE[name].view(), paper)))
        return made[name, paper]

    return _printed


@pytest.fixture(scope="module")
def texts_of(printed):
    """The text of each page, taken out once."""
    taken = {}

    def _texts_of(name, paper="a4"):
        if (name, paper) not in taken:
            taken[name, paper] = [page.extract_text() for page in printed(name, paper).pages]
        return taken[name, paper]

    return _texts_of


def _letters(text):
    """Text as its letters alone: where a line breaks, at a hyphen or not, says nothing about the words."""
    return re.sub(r"[-\s\u00ad\u200b-\u200f\u202a-\u202e\u2066-\u2069]", "", text)


@pytest.mark.parametrize("name", [name for name in PEOPLE if name != "right_to_left_name"])
def test_the_printed_words_are_those_of_the_view_in_their_order(name, texts_of):
    document = document_of(PEOPLE[name].view())
    page_texts = [re.sub(r"-\n", "", text) for text in texts_of(name)]
    whole = _letters("".join(page_texts))
    at = 0
    for block in document.blocks:
        if isinstance(block, Picture):
            continue
        for text in (block.text,) if isinstance(block, Heading) else ():
            found = whole.find(_letters(text), at)
            assert found >= 0, text
            at = found
    pictures = {block.alt for block in document.blocks if isinstance(block, Picture)}
    missing = [t for t in document.texts() if t not in pictures and _letters(t).upper() not in whole.upper()]
    assert missing == []


def test_a_right_to_left_name_is_printed_with_its_own_letters(texts_of):
    text = texts_of("right_to_left_name")[0]
    assert {letter for letter in "مريم" if letter in text} or "ﻢ" in text


@pytest.mark.parametrize("name", PEOPLE)
def test_page_one_stays_under_250_words(name, texts_of):
    words = re.findall(r"\w[\w'’.,/–-]*", texts_of(name)[0])
    assert len(words) < 250


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_second_page_holds_the_week_and_what_1_g_raises_and_no_more(paper, texts_of):
    for name in ("plain", "german_mmol_60_lows", "clock_change"):
        headings = [b.text for b in document_of(PEOPLE[name].view()).blocks if isinstance(b, Heading)]
        page = _letters(texts_of(name, paper)[1])
        assert [h for h in headings if _letters(h) in page][:2] == headings[5:7], name
        assert _letters(headings[7]) in _letters(texts_of(name, paper)[2]), name


@pytest.mark.parametrize(
    ("name", "pages"),
    [("plain", 3), ("no_data", 3), ("no_lows", 3), ("german_mmol_60_lows", 7), ("four_bands", 4), ("hostile_name", 3)],
)
def test_the_report_has_no_page_too_many(name, pages, printed):
    assert len(printed(name).pages) <= pages


@pytest.mark.parametrize(("paper", "width", "height"), [("a4", 210, 297), ("letter", 215.9, 279.4)])
def test_paper_is_a4_or_letter(paper, width, height, printed):
    box = printed("plain", paper).pages[0].mediabox
    assert (float(box.width) / MM, float(box.height) / MM) == pytest.approx((width, height), abs=0.2)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", ["plain", "german_mmol_60_lows", "hostile_name", "four_bands"])
def test_no_text_begins_outside_the_margins_or_runs_into_the_footer(name, paper, printed):
    pages = printed(name, paper).pages
    assert len(pages) >= 2
    for page in pages:
        assert _places(page)
        width, height = float(page.mediabox.width), float(page.mediabox.height)
        for text, x, y in _places(page):
            assert 20 * MM - 2 <= x <= width - 20 * MM + 2, text
            assert 8 * MM <= y <= height - 15 * MM, text


def _places(page):
    """(text, x, y) of each run of letters, points from the lower left corner of the page."""
    found = []

    def note(text, user, matrix, *_):
        if text.strip():
            x = matrix[4] * user[0] + matrix[5] * user[2] + user[4]
            y = matrix[4] * user[1] + matrix[5] * user[3] + user[5]
            found.append((text, x, y))

    page.extract_text(visitor_text=note)
    return found


def test_the_file_is_tagged_names_its_language_and_carries_its_fonts(printed):
    reader = printed("german_mmol_60_lows")
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "de"
    assert reader.metadata.title == "Wochenbericht, Kim Beispiel, Woche bis 22. November 2026"
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            descendant = font.get_object()["/DescendantFonts"][0].get_object()
            assert any(key.startswith("/FontFile") for key in descendant["/FontDescriptor"])


def test_the_same_view_gives_the_same_bytes():
    view = PEOPLE["no_lows"].view()
    assert render_pdf(view) == render_pdf(view)


@pytest.mark.parametrize("name", ["王小明", "🍬 Mia", "አበበ", "a\x00b\x07c", "\ud800x", "\uffff"])
def test_a_report_is_never_lost_to_a_name_that_no_font_can_write(name):
    inputs, found = a_week(person(name=name), low_hours=(14.2,))
    text = PdfReader(BytesIO(render_pdf(Case(inputs, found).view()))).pages[0].extract_text()
    assert "Weekly report".upper() in text.upper()
    # Named by the letters where a font of this computer has them, else by the id.
    assert name in text or "mia" in text or set(name) & set(text)


def test_a_mark_that_turns_the_direction_of_writing_does_not_turn_the_page():
    assert Case(*a_week(person(name="\u202eaiM"))).view().name == "aiM"


def test_numbers_that_are_none_are_told_as_not_known():
    inputs, found = a_week()
    broken = found.pairings.with_columns(
        factor_mg_dl_per_g=pl.lit(float("nan")), slope_mg_dl_per_min=pl.lit(float("inf")), rise_seen_mg_dl=pl.lit(None)
    )
    view = Case(inputs, replace(found, pairings=broken)).view()
    assert {low.treatment.factor_mg_dl_per_g for low in view.lows if low.treatment} == {None}
    assert all(factor.single_mg_dl_per_g == () for factor in view.factors)
    assert render_pdf(view).startswith(b"%PDF")


def test_a_day_that_a_country_skipped_does_not_stop_the_report():
    """Samoa crossed the date line by leaving out 30 December 2011 (tz database)."""
    samoa = person(zone=Dated(((date(2000, 1, 1), ZoneInfo("Pacific/Apia")),)))
    inputs, found = a_week(samoa, low_hours=(14.2,), week_end=date(2012, 1, 2))
    view = Case(inputs, found, date(2012, 1, 2), datetime(2012, 1, 3, tzinfo=UTC)).view()
    assert min(strip.minutes for strip in view.strips) == 0
    assert render_pdf(view).startswith(b"%PDF")
