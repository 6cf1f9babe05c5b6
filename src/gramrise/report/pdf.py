"""The weekly report as PDF, and its pictures as PNG, set by typst: no network, no fonts but those that come along."""

import json
from datetime import datetime
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from gramrise.domain.problems import CouldNotRun
from gramrise.report.chapters import document_of
from gramrise.report.document import Document
from gramrise.report.settings import DEFAULT, Paper, ReportSettings
from gramrise.report.style import FAMILY, PALETTE
from gramrise.report.view import WeeklyView


def render_pdf(view: WeeklyView, paper: Paper | None = None, settings: ReportSettings = DEFAULT) -> bytes:
    """The report as a tagged PDF/UA-1 with its fonts inside; the same view gives the same bytes.

    paper   "a4" or "letter"; None: as the settings say
    raises  CouldNotRun when a letter has no glyph or the typesetter refuses the document
    """
    document = document_of(view, settings)
    return set_document(document, "weekly.typ", paper or settings.paper, view.written_at_utc)


def set_document(document: Document, template: str, paper: Paper, at_utc: datetime) -> bytes:
    look = {**PALETTE, "family": FAMILY, "paper": "us-letter" if paper == "letter" else "a4"}
    inputs = {"document": json.dumps(document.plain()), "look": json.dumps(look)}
    return _compiled(
        _template(template), inputs, format="pdf", pdf_standards=["ua-1"], timestamp=int(at_utc.timestamp())
    )


def picture_png(svg: str, width_points: float, dots_per_inch: float) -> bytes:
    """A picture as PNG, `width_points` wide at 72 points an inch, for mail programs that show no SVG."""
    source = (
        b"#set page(width: float(sys.inputs.width) * 1pt, height: auto, margin: 0pt)\n"
        b'#image(bytes(sys.inputs.svg), format: "svg", width: 100%)'
    )
    return _compiled(source, {"svg": svg, "width": f"{width_points:g}"}, format="png", ppi=dots_per_inch)


def _compiled(source: bytes, inputs: dict[str, str], **how: Any) -> bytes:
    import typst

    try:
        made, warnings = typst.compile_with_warnings(
            input=source, sys_inputs=inputs, font_paths=[_fonts()], ignore_system_fonts=True, **how
        )
    except typst.TypstError as problem:
        raise CouldNotRun(
            f"the report could not be set: {problem}", "report this together with the message"
        ) from problem
    if warnings:
        told = "; ".join(str(getattr(warning, "message", warning)) for warning in warnings)
        raise CouldNotRun(f"the report could not be set cleanly: {told}", "report this together with the message")
    assert isinstance(made, bytes)
    return made


@cache
def _fonts() -> Path:
    """The folder of fonts that matplotlib brings; they stand in for letters the book face lacks."""
    from matplotlib import get_data_path

    return Path(get_data_path()) / "fonts" / "ttf"


@cache
def _template(name: str) -> bytes:
    return (files("gramrise.report") / "templates" / name).read_bytes()
