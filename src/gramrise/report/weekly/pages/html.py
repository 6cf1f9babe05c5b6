"""The weekly report as one HTML page: for a browser, with its pictures inside, and for the HTML part of a mail."""

from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from gramrise.report.style import PALETTE, SCREEN_FAMILIES
from gramrise.report.weekly.chapters.document import Document
from gramrise.report.weekly.chapters.report_document import document_of
from gramrise.report.weekly.numbers.view import WeeklyView
from gramrise.report.weekly.pages.plain_text import SOFT_HYPHEN
from gramrise.report.weekly.settings import DEFAULT, ReportSettings


def render_html(view: WeeklyView, settings: ReportSettings = DEFAULT) -> str:
    """A whole page that needs no other file; text from the log is escaped."""
    return html_of(document_of(view, settings), {})


def html_of(document: Document, picture_ids: Mapping[str, str], greeting: str = "") -> str:
    """The page of a document.

    picture_ids   picture's name -> content id of the mail's part that holds it; a picture not named is set inline
    greeting      a first sentence of a mail; '' for none
    """
    rendered = _template("weekly.html").render(
        doc=document.plain(),
        look={**PALETTE, "families": SCREEN_FAMILIES},
        ids=dict(picture_ids),
        greeting=greeting,
        soft_hyphen=SOFT_HYPHEN,
    )
    return "\n".join(line.rstrip() for line in rendered.splitlines() if line.strip()) + "\n"


@cache
def _template(name: str) -> Any:
    folder = files("gramrise.report.weekly.pages") / "templates"
    environment = Environment(
        loader=FunctionLoader(lambda wanted: (folder / wanted).read_text("utf-8")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["svg"] = _fluid
    return environment.get_template(name)


def _fluid(svg: str) -> Markup:
    """Our own drawing, already escaped where it was drawn, made as wide as the page."""
    return Markup(svg.replace("<svg ", '<svg style="width:100%;height:auto;" aria-hidden="true" ', 1))
