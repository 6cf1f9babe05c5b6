"""The step sheet with its label as PDF or picture."""

import json
from importlib.resources import files

from gramrise.report.mixing.face import mixing_face
from gramrise.report.mixing.view import MixingView
from gramrise.report.style import FAMILY, PALETTE
from gramrise.report.typesetting import set_pdf, set_png

PICTURE_PPI = 110.0


def mixing_pdf(view: MixingView, made_at: int) -> bytes:
    """A tagged PDF of one page. `made_at`: its date, seconds since 1970. Raises CouldNotRun as `set_pdf` does."""
    return set_pdf(_template(), _inputs(view), made_at)


def mixing_png(view: MixingView, made_at: int) -> bytes:
    """The page as a picture."""
    return set_png(_template(), _inputs(view), made_at, PICTURE_PPI)


def _inputs(view: MixingView) -> dict[str, str]:
    look = {
        **PALETTE,
        "family": FAMILY,
        "paper": "us-letter" if view.paper == "letter" else "a4",
        "page": PALETTE["paper"],
    }
    return {"face": mixing_face(view).model_dump_json(), "look": json.dumps(look)}


def _template() -> bytes:
    return (files("gramrise.report.mixing") / "templates" / "mixing.typ").read_bytes()
