"""The review as a folder that opens without a server."""

from collections.abc import Iterator, Sequence

from gramrise.report.review.chapters.blocks import Page
from gramrise.report.review.chapters.pairings_page import pairings_page
from gramrise.report.review.chapters.panel_page import panel_page
from gramrise.report.review.chapters.person_page import person_page
from gramrise.report.review.chapters.visit_page import visit_page
from gramrise.report.review.numbers.view import Panel, PersonReview
from gramrise.report.review.pages.html import STYLESHEET, file_of, page_html, stylesheet


def panel_files(panel: Panel) -> Iterator[tuple[str, str]]:
    """(file name, text) of the panel and of the look of all pages."""
    page = panel_page(panel)
    yield file_of(page.place), page_html(page)
    yield STYLESHEET, stylesheet()


def person_files(review: PersonReview, *, with_panel: bool = True) -> Iterator[tuple[str, str]]:
    """(file name, text) of the pages of a person."""
    for page in person_pages(review, with_panel=with_panel):
        yield file_of(page.place), page_html(page)


def person_pages(review: PersonReview, *, with_panel: bool = True) -> Sequence[Page]:
    """The person's page, the page of pairings and the page before the visit."""
    pages = (person_page, pairings_page, visit_page)
    return [make(review, with_panel=with_panel) for make in pages]
