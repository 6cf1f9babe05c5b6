"""The page for a browser and the plain text: everything escaped, nothing fetched, no line too long."""

import re
from html.parser import HTMLParser

import pytest
from support.report_people import HOSTILE, everyone

from gramrise.report.weekly.chapters.document import Picture
from gramrise.report.weekly.chapters.report_document import document_of
from gramrise.report.weekly.pages.html import render_html
from gramrise.report.weekly.pages.plain_text import WIDTH, render_text

PEOPLE = everyone()
VOID = {"meta", "img", "br", "hr", "rect", "line", "circle", "polyline"}


class Page(HTMLParser):
    """Collects text and tags; every tag must be closed by its own end."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.text, self.seen = [], [], []

    def handle_starttag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_startendtag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text.append(data)


def _page(name):
    page = Page()
    page.feed(render_html(PEOPLE[name].view()))
    assert page.open == []
    return page


@pytest.mark.parametrize("name", PEOPLE)
def test_the_page_holds_every_word_of_the_view(name):
    page = _page(name)
    document = document_of(PEOPLE[name].view())
    whole = " ".join(" ".join(page.text).split())
    labels = [attrs.get("aria-label") for _, attrs in page.seen]
    pictures = [block.alt for block in document.blocks if isinstance(block, Picture)]
    assert [alt for alt in pictures if alt not in labels] == []
    texts = [text for text in document.texts() if text not in pictures]
    assert [text for text in texts if " ".join(text.split()) not in whole] == []


def test_a_name_made_to_do_harm_stays_a_name():
    page = _page("hostile_name")
    assert "script" not in {tag for tag, _ in page.seen}
    assert "b" in {tag for tag, _ in page.seen}  # our own; the log's <b> is text
    assert " ".join(HOSTILE.split()) in " ".join(" ".join(page.text).split())


@pytest.mark.parametrize("name", PEOPLE)
def test_the_page_needs_nothing_from_elsewhere(name):
    for tag, attrs in _page(name).seen:
        assert tag not in {"script", "link", "iframe", "object"}
        assert not attrs.get("src", "").startswith(("http", "//"))
    assert "url(" not in render_html(PEOPLE[name].view())


def test_the_page_says_its_language_and_title():
    page = _page("german_mmol_60_lows")
    assert ("html", {"lang": "de"}) in page.seen
    assert "Wochenbericht, Kim Beispiel, Woche bis 22. November 2026" in page.text


@pytest.mark.parametrize("name", PEOPLE)
def test_no_line_of_the_plain_text_is_over_78_characters(name):
    text = render_text(PEOPLE[name].view())
    assert [line for line in text.splitlines() if len(line) > WIDTH] == []


@pytest.mark.parametrize("name", PEOPLE)
def test_the_plain_text_holds_every_word_of_the_view(name):
    whole = re.sub(r"[\s-]", "", render_text(PEOPLE[name].view())).upper()
    heads = {h for b in document_of(PEOPLE[name].view()).blocks for h in getattr(b, "head", ())}
    captions = {b.caption for b in document_of(PEOPLE[name].view()).blocks if isinstance(b, Picture)}
    texts = [t for t in document_of(PEOPLE[name].view()).texts() if t not in heads | captions]
    assert [t for t in texts if re.sub(r"[\s-]", "", t).upper() not in whole] == []


@pytest.mark.parametrize("name", PEOPLE)
def test_one_unit_is_used_and_never_both(name):
    view = PEOPLE[name].view()
    other = {"mg/dL": "mmol/L", "mmol/L": "mg/dL"}[view.unit]
    assert other not in render_html(view)
    assert other not in render_text(view)


def test_no_summary_figure_of_others_reports_is_printed():
    """Others have those: no time in range, no GMI, no CV, no percentile ribbon, no traffic lights, no trend arrows."""
    assert PEOPLE
    for case in PEOPLE.values():
        html = render_html(case.view())
        assert re.search(r"time in range|\bGMI\b|\bCV\b|A1c|percentile|[↑↓→↗↘⬆⬇]", html, re.I) is None


def test_slopes_are_told_in_words():
    assert "The level was falling 1.9 a minute." in " ".join(render_text(PEOPLE["plain"].view()).split())


def test_on_a_narrow_screen_each_cell_of_a_table_names_its_column():
    cells = [attrs for tag, attrs in _page("plain").seen if tag == "td" and attrs.get("class") != "note"]
    heads = {attrs["data-head"] for attrs in cells}
    assert {"Lowest, mg/dL", "Minutes low", "Longest gap"} <= heads
    assert "@media (max-width: 520px)" in render_html(PEOPLE["plain"].view())
