"""The card as PDF and PNG, set by typst from its words: no network, fonts embedded, the same view the same bytes."""

import json
from dataclasses import asdict, dataclass
from importlib.resources import files
from typing import Final, Literal

from gramrise.domain.problems import WrongUse
from gramrise.report.card.numbers.view import CardView
from gramrise.report.card.pages.face import CardFace, face_of
from gramrise.report.card.pages.plain import card_text
from gramrise.report.style import FAMILY, PALETTE
from gramrise.report.typesetting import set_pdf, set_png

__all__ = ["card_alt", "card_pdf", "card_png", "card_text"]  # the ways in which a card is shown

Size = Literal["wallet", "fridge"]


@dataclass(frozen=True, slots=True)
class Layout:
    """Measures of one size: millimetres of paper, points of type; `scales` are tried from the largest."""

    width_mm: float
    height_mm: float
    margin_mm: float
    panel_mm: float  # height of one folded panel
    body_pt: float
    title_pt: float
    name_pt: float
    reading_pt: float
    amount_pt: float
    heavy_pt: float
    row_em: float  # white above and below in the table, in ems
    cell_em: float  # white left and right
    reading_share: float  # width of the column of readings against a column of amounts
    scales: tuple[float, ...]


SCALES: Final = (1.0, 0.97, 0.94, 0.91, 0.88, 0.85, 0.82, 0.8)
# Wallet: a strip of five bank-card faces (ISO/IEC 7810 ID-1, 85.6 x 54 mm), folded like a map; it fits on one A4 or
# Letter sheet. Our choice against A6: it goes where a bank card goes, and each fold answers one question.
WALLET: Final = Layout(85.6, 270.0, 3.8, 54.0, 7.6, 15, 9.4, 12, 15, 1.2, 0.5, 0.5, 0.48, SCALES)
# Fridge: a whole sheet, read from a step away; amounts never under 24 pt (our choice),
# in the smallest scale neither.
FRIDGE_A4: Final = Layout(210.0, 297.0, 14.0, 0.0, 11.2, 30, 16, 22, 32, 1.8, 0.75, 0.7, 0.42, SCALES)
FRIDGE_LETTER: Final = Layout(215.9, 279.4, 13.0, 0.0, 10.6, 28, 15, 21, 31, 1.8, 0.6, 0.7, 0.42, SCALES)


def card_pdf(view: CardView, size: Size = "wallet") -> bytes:
    """A tagged PDF, a page for every two time bands.

    raises CouldNotRun where names, telephone numbers or places are too long for the size, or a letter is in no font
    """
    return set_pdf(_template(view), _inputs(view, size, picture=False), _made_at(view))


def card_png(view: CardView, size: Size = "wallet") -> bytes:
    """One picture; the sheets of a person with many bands stand one below the other. Raises as `card_pdf` does."""
    return set_png(_template(view), _inputs(view, size, picture=True), _made_at(view), float(view.rules.picture_ppi))


def card_alt(view: CardView) -> str:
    """The picture told in words, for who cannot see it: the whole table, cell by cell."""
    face = face_of(view)
    return f"{face.document}. {face.source}. {face.first_only}. {face.alt}"


def layout_of(view: CardView, size: Size) -> Layout:
    """The measures of a size on the paper the household uses; the school's card is a whole sheet."""
    if size == "wallet" and not view.for_school:
        return WALLET
    return FRIDGE_A4 if view.rules.fridge_paper == "a4" else FRIDGE_LETTER


def _inputs(view: CardView, size: Size, *, picture: bool) -> dict[str, str]:
    if view.withheld:
        raise WrongUse("a card that is withheld is not printed", "mend what withholds it: gramrise card --look")
    face: CardFace = face_of(view)
    look = {**PALETTE, "family": FAMILY, "size": size, "picture": picture, **asdict(layout_of(view, size))}
    return {"face": face.model_dump_json(), "look": json.dumps(look)}


def _made_at(view: CardView) -> int:
    return int(view.made_at_utc.timestamp())


def _template(view: CardView) -> bytes:
    name = "school.typ" if view.for_school else "card.typ"
    return (files("gramrise.report.card.pages") / "templates" / name).read_bytes()
