"""A page of the review as HTML. Whoever shows it says at which address each place is, and where the stylesheet lies."""

from collections.abc import Callable, Sequence
from functools import cache
from importlib.resources import files
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from gramrise.report.review.chapters.blocks import Page, PageKind, Place
from gramrise.report.style import PALETTE, SCREEN_FAMILIES
from gramrise.report.words import words_for

Address = Callable[[Place], str]
STYLESHEET = "review.css"


def review_file(place: Place) -> str:
    """The file of a page in a folder of pages. An id holds no dot, so that no person's page takes another's name."""
    return "index.html" if place.kind is PageKind.PANEL else f"{place.kind}.{place.person_id}.html"


def address_in_folder(place: Place) -> str:
    """The address of a place from any page of the same folder."""
    return quote(review_file(place)) + (f"#{quote(place.part)}" if place.part else "")


def page_html(
    page: Page,
    address: Address = address_in_folder,
    stylesheet: str = STYLESHEET,
    more_ways: Sequence[tuple[str, str]] = (),
) -> str:
    """The whole page; text from logs and names is escaped, and nothing in it runs.

    address     where each place is; by default files side by side, so that a folder opens without a server
    more_ways   (words, address) of what stands beside the review where it is shown live
    """
    rendered = _template().render(
        page=page,
        href=address,
        stylesheet=stylesheet,
        more_ways=more_ways,
        skip=words_for(page.language, "mg/dL", "UTC").say("way.skip"),
    )
    return "\n".join(line.rstrip() for line in rendered.splitlines() if line.strip()) + "\n"


@cache
def review_stylesheet() -> str:
    """The look of all pages."""
    colours = "".join(f" --{name}: {value};" for name, value in PALETTE.items())
    return f":root {{{colours} --families: {SCREEN_FAMILIES}; }}\n{_file('review.css')}"


@cache
def _template() -> Any:
    environment = Environment(
        loader=FunctionLoader(_file), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["svg"] = _drawing
    return environment.get_template("page.html")


def _file(name: str) -> str:
    return (files("gramrise.report.review.pages") / "templates" / name).read_text("utf-8")


def _drawing(svg: str) -> Markup:
    """Our own drawing, already escaped where it was drawn."""
    return Markup(svg.replace("<svg ", '<svg aria-hidden="true" ', 1))
