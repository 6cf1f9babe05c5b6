"""The review as files: HTML that runs nothing, tables that a spreadsheet runs nothing of, and paper."""

import csv
import io
import re
from html.parser import HTMLParser

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.report_people import HOSTILE, NOW
from support.review_people import drift_line, everyone

from gramrise.report.review.chapters.blocks import PageKind, Place
from gramrise.report.review.chapters.person_page import person_page
from gramrise.report.review.numbers.panel import panel_line, panel_of
from gramrise.report.review.pages.folder import panel_files, person_files
from gramrise.report.review.pages.html import address_in_folder, page_html, review_file, review_stylesheet
from gramrise.report.review.pages.pdf import review_pdf
from gramrise.report.review.pages.tables import pairings_table, panel_table
from gramrise.report.review.settings import DEFAULT
from gramrise.report.style import PALETTE


def _panel(*lines):
    return panel_of(lines, language="en", written_at_utc=NOW, settings=DEFAULT)


class _Tags(HTMLParser):
    def __init__(self, html):
        super().__init__()
        self.found = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))


RUNS_OR_FETCHES = {"script", "iframe", "object", "embed", "form", "base", "img", "style"}


@pytest.mark.parametrize("name", ["hostile", "signed", "german_mmol", "no_data"])
def test_a_page_holds_no_script_no_style_of_its_own_and_no_address_outside(name):
    pages = list(person_files(everyone()[name]))
    assert len(pages) == 3
    for _, html in pages:
        tags = _Tags(html).found
        assert len(tags) > 20
        assert {tag for tag, _ in tags} & RUNS_OR_FETCHES == set()
        assert [attrs for _, attrs in tags if any(each.startswith("on") or each == "style" for each in attrs)] == []
        addresses = [attrs["href"] for _, attrs in tags if "href" in attrs]
        assert [address for address in addresses if re.match(r"[a-z]+:|//", address, re.I)] == []


def test_a_name_that_is_markup_is_shown_as_it_was_typed():
    html = dict(person_files(everyone()["hostile"]))["person.mia.html"]
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html
    assert HOSTILE not in html


def test_whoever_shows_a_page_says_where_its_links_lead():
    page = person_page(everyone()["signed"])
    html = page_html(page, lambda place: f"/clinic/{place.kind}/{place.person_id}#{place.part}", "/look.css")
    assert 'href="/clinic/visit/mia#"' in html
    assert 'href="/look.css"' in html
    assert ".html" not in html


def test_no_two_places_share_a_file_and_an_address_is_safe_in_a_link():
    ids = ["mia", "mia-visit", "person", "index", "mia_", "Mïa"]
    files = [review_file(Place(kind, each)) for kind in PageKind if kind is not PageKind.PANEL for each in ids]
    assert len({*files, review_file(Place(PageKind.PANEL))}) == len(files) + 1
    assert address_in_folder(Place(PageKind.PERSON, "Mïa", "a b")) == "person.M%C3%AFa.html#a%20b"


def test_a_folder_of_one_person_has_a_panel_of_one_line():
    files = dict(panel_files(_panel(panel_line(everyone()["signed"], DEFAULT))))
    assert set(files) == {"index.html", "review.css"}
    assert files["index.html"].count("<tr>") == 2  # the head, and the person


def test_the_look_knows_no_colour_but_black_white_and_greys():
    css = review_stylesheet()
    assert set(re.findall(r"#[0-9a-f]{6}", css)) == set(PALETTE.values())
    assert "url(" not in css
    assert "@import" not in css


def _rows(text):
    return list(csv.reader(io.StringIO(text.removeprefix("\ufeff"))))


RUNNABLE = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "\u00a0=1", "\uff1d1", "=cmd|' /C calc'!A0"]


@pytest.mark.parametrize("name", RUNNABLE)
def test_a_cell_that_a_spreadsheet_would_run_is_made_text(name):
    line = panel_line(everyone()["signed"], DEFAULT).model_copy(update={"name": name})
    cell = _rows(panel_table(_panel(line)))[1][1]
    assert cell == f"'{name}"


@given(st.text("=+-@\t\r\n\u00a0\uff1d '\"a1", max_size=6))
@settings(max_examples=40, deadline=None)
def test_no_text_of_a_family_begins_a_cell_as_a_formula_does(name):
    line = panel_line(everyone()["no_data"], DEFAULT).model_copy(update={"name": name})
    rows = _rows(panel_table(_panel(line)))
    assert len(rows) == 2
    assert rows[1][1].lstrip(" \u00a0")[:1] not in tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")


def test_numbers_stay_numbers_in_a_table_and_what_is_not_known_is_empty():
    review = everyone()["signed"]
    head, *rows = _rows(pairings_table(review))
    told = [dict(zip(head, row, strict=True)) for row in rows]
    assert len(told) == len(review.pairings) == 3
    assert (told[0]["grams"], told[0]["verdict"], told[0]["factor_mg_dl_per_g"]) == ("5.52", "used", "7.4")
    assert told[1]["factor_mg_dl_per_g"] == ""
    assert told[0]["first_dose_utc"].endswith("Z")


def test_the_panel_has_a_row_for_each_band_that_was_signed_and_one_where_none_was():
    signed = panel_line(everyone()["signed"], DEFAULT)
    two = signed.model_copy(update={"drift": (drift_line(), drift_line(band="overnight"))})
    alone = panel_line(everyone()["no_data"], DEFAULT).model_copy(update={"person_id": "nil"})
    head, *rows = _rows(panel_table(_panel(two, alone)))
    bands = [(row[0], row[head.index("band")], row[head.index("ratio")]) for row in rows]
    assert bands == [("mia", "daytime", "0.76"), ("mia", "overnight", "0.76"), ("nil", "", "")]


@pytest.fixture(scope="module")
def paper():
    return pypdf.PdfReader(io.BytesIO(review_pdf(everyone()["signed"])))


def test_the_paper_is_tagged_says_whose_it_is_and_carries_the_cautions(paper):
    told = " ".join(page.extract_text() for page in paper.pages).replace("\n", " ")
    assert paper.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert paper.metadata.title.startswith("Mia Beispiel")
    for said in ("24% less than signed", "Before the visit", "accepted on 17 November 2026", "Not certified"):
        assert said in told
    assert "Look at" not in told  # nobody can follow a link on paper


def test_the_same_review_gives_the_same_paper_and_a_hostile_name_can_be_printed():
    assert review_pdf(everyone()["no_data"]) == review_pdf(everyone()["no_data"])
    reader = pypdf.PdfReader(io.BytesIO(review_pdf(everyone()["hostile"])))
    assert "<script>alert(1)" in reader.pages[0].extract_text()
