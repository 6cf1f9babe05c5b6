"""The weekly report as PDF, and its pictures as PNG, set by typst: no network, no fonts but those that come along."""

import json
from collections.abc import Callable
from functools import cache
from importlib.resources import files
from typing import Final

from gramrise.domain.problems import CouldNotRun
from gramrise.report.style import FAMILY, PALETTE
from gramrise.report.typesetting import can_print, set_pdf, set_png
from gramrise.report.weekly.chapters.document import Document
from gramrise.report.weekly.chapters.report_document import document_of
from gramrise.report.weekly.numbers.view import WeeklyView
from gramrise.report.weekly.settings import DEFAULT, Paper, ReportSettings

# Stands for a letter that no font of this computer has; the mail and the page on the screen still show the letter.
NO_SUCH_LETTER: Final = "\u25a1"
PICTURE: Final = b"""
#set document(title: "picture")
#set page(width: float(sys.inputs.width) * 1pt, height: auto, margin: 0pt)
#image(bytes(sys.inputs.svg), format: "svg", width: 100%, alt: "picture")
"""


def render_pdf(view: WeeklyView, paper: Paper | None = None, settings: ReportSettings = DEFAULT) -> bytes:
    """The report as a tagged PDF/UA-1 with its fonts inside; the same view gives the same bytes.

    paper   "a4" or "letter"; None: as the settings say
    raises  CouldNotRun when the typesetter refuses the document
    """
    made_at = int(view.written_at_utc.timestamp())
    return pdf_of(
        document_of(view, settings),
        paper or settings.paper,
        made_at,
        lambda: document_of(view.model_copy(update={"name": ""}), settings),
    )


def pdf_of(document: Document, paper: Paper, made_at: int, nameless: Callable[[], Document] | None = None) -> bytes:
    """The PDF of a document, made at so many seconds since 1970.

    nameless  the same with the person's id for the name; used where no font of this computer has the name's letters
    raises    CouldNotRun when the typesetter refuses the document
    """
    look = {**PALETTE, "family": FAMILY, "paper": "us-letter" if paper == "letter" else "a4"}
    told = _told(document)
    try:
        return set_pdf(_template(), {"document": told, "look": json.dumps(look)}, made_at)
    except CouldNotRun:
        # A report is never lost to a letter that no font has: a sign stands for it.
        named = document if nameless is None or _at_hand(document.name) == document.name else nameless()
        shown = _at_hand(_told(named))
        if shown == told:
            raise
        return set_pdf(_template(), {"document": shown, "look": json.dumps(look)}, made_at)


def picture_png(svg: str, width_points: float, dots_per_inch: float) -> bytes:
    """A picture as PNG, `width_points` wide at 72 points an inch, for mail programs that show no SVG."""
    return set_png(PICTURE, {"svg": _at_hand(svg), "width": f"{width_points:g}"}, 0, dots_per_inch)


def _told(document: Document) -> str:
    return json.dumps(document.plain(), ensure_ascii=False)


def _at_hand(text: str) -> str:
    """The text with a sign for every letter that the fonts which come along lack."""
    return "".join(letter if letter.isascii() or can_print(letter) else NO_SUCH_LETTER for letter in text)


@cache
def _template() -> bytes:
    return (files("gramrise.report.weekly.pages") / "templates" / "weekly.typ").read_bytes()
