"""The card on paper: what the PDF says is what the view says, on the size it should be, for every kind of family."""

import io
import re
import struct
from dataclasses import replace
from datetime import date, time

import pytest
from pypdf import PdfReader
from support.card_people import (
    BIG_PIECES,
    GEL,
    LIQUID,
    NOW,
    PLAN,
    TODAY,
    always,
    card,
    factors,
    pairings,
    person,
)

from gramrise.domain.bands import TimeBand
from gramrise.domain.person import Dated
from gramrise.domain.problems import CouldNotRun
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery
from gramrise.report.card.pages.face import CardFace, face_of
from gramrise.report.card.pages.page import card_pdf, card_png, layout_of
from gramrise.report.card.pages.plan_sheet import plan_sheet_pdf, sheet_face
from gramrise.report.card.settings import SHIPPED_SETTINGS
from gramrise.report.style import PALETTE, contrast

MM_PER_POINT = 25.4 / 72
FOUR_BANDS = always(
    (
        TimeBand("morning", time(6), time(11)),
        TimeBand("school", time(11), time(16)),
        TimeBand("evening", time(16), time(22)),
        TimeBand("overnight", time(22), time(6)),
    )
)
LONG = replace(
    PLAN,
    standard_grams=9,
    automated_grams=7.5,
    below_54_grams=12,
    contacts=(
        "Mutter (Mobil) 0555 5550100",
        "Vater (Arbeit) 0555 5550101",
        "Diabetesambulanz am Stadtpark 0555 5550102",
    ),
    call_when="nach zwei Gaben noch unter 3,9, benommen oder allein",
    glucagon="nasal, 3 mg",
    glucagon_where="Erste-Hilfe-Tasche im Sekretariat, oberes Fach links",
    vomiting="wenn eine Stunde lang nichts unten bleibt, in die Ambulanz kommen",
    sport="vorher und alle 30 Minuten messen, nachts einmal mehr",
    illness="alle zwei Stunden messen, jedes Mal auch Ketone",
    approved_by="Prof. Dr. med. Annegret Hohenstein-Wagner",
    approved_role="Leiterin der Kinderdiabetologie",
)
FEW = pairings(daytime=5, overnight=7)
CARDS = {
    "own": card,
    "thin": lambda: card(BIG_PIECES, used=FEW),
    "for the school": lambda: card(for_school=True),
    "mmol/L, right-to-left name": lambda: card(LIQUID, person(name="נועה בן־דוד", unit=GlucoseUnit.MMOL_L)),
    "arabic name": lambda: card(who=person(name="محمد الأمين")),
    "three years old, german": lambda: card(
        LIQUID,
        person(
            replace(PLAN, approved_on=TODAY),
            born=date(2023, 10, 1),
            language="de",
            weights_kg=Dated(((TODAY, 14.5),)),
        ),
        factors(weight_kg=14.5, daytime=20, overnight=15),
    ),
    "no data, no name": lambda: card(
        who=person(replace(PLAN, standard_grams=None), name=""), found=factors().clear(), used=FEW.clear()
    ),
    "four bands": lambda: card(who=person(bands=FOUR_BANDS)),
    "automated, long, german": lambda: card(
        GEL,
        person(
            LONG,
            name="Maximiliane-Theodora von der Lüneburger-Heidenreich",
            language="de",
            unit=GlucoseUnit.MMOL_L,
            delivery=always(Delivery.AUTOMATED),
        ),
    ),
    "all capped, long, german": lambda: card(
        LIQUID,
        person(LONG, name="Maximiliane-Theodora von der Lüneburger-Heidenreich", language="de"),
        factors(daytime=3.2, overnight=2.2),
    ),
    "for the school, long, german": lambda: card(
        GEL,
        person(LONG, name="Maximiliane-Theodora von der Lüneburger-Heidenreich", language="de"),
        for_school=True,
    ),
}


def words_of(face: CardFace, part: int):
    """Every string that must stand on the sheet of one part of the bands."""
    page = face.pages[part]
    yield from (face.title, face.name, face.born, face.source, face.source_name, face.source_notes)
    yield from (face.source_care, face.first_only, face.made, face.weighed, face.until, face.approved)
    yield from (face.reading, face.unit, *face.below_54.model_dump().values())
    yield from (face.no_early, face.finer, page.part, face.turn)
    for band in page.bands:
        yield from (band.name, band.hours, band.measured, band.instead)
    for row in page.rows:
        yield from (row.reading, row.condition)
        for band, cell in zip(page.bands, row.cells, strict=True):
            yield from cell.lines if not band.instead else ()
            if cell.amount:
                yield from (cell.amount, cell.grams)
    notes = face.notes
    yield from told(notes.emergency, notes.not_for, notes.then, notes.contacts)
    yield notes.instead


def words_of_the_back(face: CardFace):
    yield from (face.title, face.name, face.footer)
    yield from told(face.notes.asleep, face.notes.sick, face.notes.know, face.notes.void)


def words_of_the_school_sheet(face: CardFace):
    yield from (face.title, face.tag, face.name, face.born, face.source, face.source_name, face.first_only)
    yield from (face.made, face.until, face.approved, face.footer, *face.school.model_dump().values())
    yield from told(*face.notes.all)


def told(*notes):
    for note in notes:
        if note.lines:
            yield from (note.heading, *note.lines)


def squeezed(text: str) -> str:
    """Without blanks, line breaks and hyphens of syllables: what is left must agree to the letter."""
    return re.sub(r"[\s\u00a0\u2060\u00ad-]", "", text)


def has_letters_from_right_to_left(text: str) -> bool:
    return bool(re.search(r"[\u0590-\u06ff]", text))


@pytest.mark.parametrize("size", ["wallet", "fridge"])
@pytest.mark.parametrize("family", CARDS)
def test_the_pdf_says_every_word_of_the_view_on_pages_of_its_size(family, size):
    view = CARDS[family]()
    assert view.withheld == ()
    face, layout = face_of(view), layout_of(view, size)
    reader = PdfReader(io.BytesIO(card_pdf(view, size)))
    parts = [words_of(face, part) for part in range(len(face.pages))] + [words_of_the_back(face)]
    parts = [words_of_the_school_sheet(face)] if face.school else parts
    assert len(reader.pages) == len(parts)
    compared = 0
    for wanted, page in zip(parts, reader.pages, strict=True):
        width, height = (float(side) * MM_PER_POINT for side in page.mediabox[2:])
        assert (width, height) == (pytest.approx(layout.width_mm, abs=0.1), pytest.approx(layout.height_mm, abs=0.1))
        text = squeezed(page.extract_text())
        for words in wanted:
            if words and not has_letters_from_right_to_left(words):
                assert squeezed(words) in text, words
                compared += 1
    assert compared > 30


def test_the_pdf_is_tagged_titled_and_in_its_language():
    reader = PdfReader(io.BytesIO(card_pdf(card(who=person(language="de")), "wallet")))
    catalog = reader.trailer["/Root"]
    assert catalog["/MarkInfo"]["/Marked"]
    assert catalog["/Lang"].startswith("de")
    assert reader.metadata.title == "Glukosekarte 12, Mira Okafor"
    metadata = catalog["/Metadata"].get_data().decode()
    assert "pdfuaid:part" in metadata
    assert "pdfaid:part" in metadata


def test_all_fonts_are_inside_the_pdf():
    reader = PdfReader(io.BytesIO(card_pdf(card(), "fridge")))
    fonts = reader.pages[0]["/Resources"]["/Font"].values()
    assert fonts
    for font in fonts:
        inner = font.get_object()["/DescendantFonts"][0].get_object()
        assert {"/FontFile2", "/FontFile3"} & set(inner["/FontDescriptor"])


def test_the_same_view_gives_the_same_bytes():
    view = card()
    assert card_pdf(view, "wallet") == card_pdf(view, "wallet")
    assert card_png(view, "wallet") == card_png(view, "wallet")


@pytest.mark.parametrize("family", ["own", "thin", "all capped, long, german"])
@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_amounts_on_the_fridge_are_at_least_24_points_and_larger_and_bolder_than_readings(family, paper):
    view = CARDS[family]()
    view = view.model_copy(update={"rules": view.rules.model_copy(update={"fridge_paper": paper})})
    face, sizes = face_of(view), {}

    def look(text, _, matrix, font, size):
        if text.strip():
            sizes.setdefault(squeezed(text), set()).add((round(size * abs(matrix[3]), 1), font["/BaseFont"]))

    PdfReader(io.BytesIO(card_pdf(view, "fridge"))).pages[0].extract_text(visitor_text=look)
    amount_pieces = [found for text, found in sizes.items() if text == squeezed(face.pages[0].rows[0].cells[0].amount)]
    reading_pieces = [found for text, found in sizes.items() if text == squeezed(face.pages[0].rows[0].reading)]
    assert amount_pieces
    assert reading_pieces
    amount_sizes = {size for found in amount_pieces for size, _ in found}
    assert min(amount_sizes) >= 24
    assert min(amount_sizes) > max(size for found in reading_pieces for size, _ in found)
    assert all("Bold" in font for found in amount_pieces for _, font in found)
    assert not any("Bold" in font for found in reading_pieces for _, font in found)


def test_everything_printed_has_a_contrast_of_seven_to_one_and_no_hue():
    for text, ground in (("ink", "paper"), ("quiet", "paper"), ("ink", "tint"), ("paper", "ink")):
        assert contrast(PALETTE[text], PALETTE[ground]) >= 7
    for colour in PALETTE.values():
        assert colour[1:3] == colour[3:5] == colour[5:7]  # a grey: a black-and-white printer loses nothing


def test_the_strip_folds_to_a_bank_card_and_prints_on_one_sheet_of_either_paper():
    layout = layout_of(card(), "wallet")
    assert (layout.width_mm, layout.panel_mm) == (85.6, 54.0)
    assert layout.height_mm == 5 * layout.panel_mm
    assert layout.height_mm < 279.4


def test_the_picture_of_four_bands_shows_both_sheets_and_the_back_one_below_the_other():
    def size(png):
        assert png[:8] == b"\x89PNG\r\n\x1a\n"
        return struct.unpack(">II", png[16:24])

    one, two = size(card_png(card())), size(card_png(CARDS["four bands"]()))
    assert two[0] == one[0]
    assert two[1] == pytest.approx(1.5 * one[1], abs=2)  # two sheets and a back against one and a back
    assert one[0] == pytest.approx(85.6 / 25.4 * SHIPPED_SETTINGS.picture_ppi, abs=2)


def test_places_too_long_for_the_card_are_refused_not_cut_off():
    endless = replace(PLAN, contacts=tuple(f"Relative number {n}, telephone 0555 {n:04d}" for n in range(20)))
    with pytest.raises(CouldNotRun, match="too long for the card"):
        card_pdf(card(who=person(endless)), "wallet")


def test_a_letter_no_font_has_is_refused_not_printed_as_a_box():
    with pytest.raises(CouldNotRun, match="a letter cannot be printed"):
        card_pdf(card(who=person(name="\U00012345")), "wallet")  # a sign of cuneiform


def test_text_that_looks_like_the_typesetters_commands_stays_text():
    hostile = person(
        replace(PLAN, contacts=("#panic() *x* $y$ @z \\ [", "<script>alert(1)</script>")), name="#let x = [*"
    )
    text = squeezed(PdfReader(io.BytesIO(card_pdf(card(who=hostile)))).pages[0].extract_text())
    assert squeezed("#panic() *x* $y$ @z \\ [") in text
    assert squeezed("<script>alert(1)</script>") in text


def test_no_word_about_one_person_stands_on_the_card_of_another():
    mira, other = (
        card(),
        card(
            who=person(
                name="Juno Sandberg",
                person_id="juno",
                care_plan=always(replace(PLAN, contacts=(), glucagon_where="", approved_by="Dr. Grau")),
            )
        ),
    )
    text = PdfReader(io.BytesIO(card_pdf(other))).pages[0].extract_text()
    assert "Juno" in text
    assert not any(word in text for word in ("Mira", "Lind", "0555", "red bag"))
    assert mira.person_id != other.person_id


def test_the_one_amount_of_the_school_stands_larger_than_anything_else_on_its_sheet():
    view, sizes = CARDS["for the school"](), {}

    def look(text, _, matrix, font, size):
        if text.strip():
            sizes[squeezed(text)] = max(sizes.get(squeezed(text), 0), round(size * abs(matrix[3]), 1))

    PdfReader(io.BytesIO(card_pdf(view, "fridge"))).pages[0].extract_text(visitor_text=look)
    largest = max(sizes, key=sizes.get)
    assert largest == squeezed(face_of(view).school.amount)
    assert sizes[largest] >= 40


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_blank_sheet_of_the_plan_says_every_word_on_one_page(language):
    for unit in GlucoseUnit:
        who = person(language=language, unit=unit)
        pages = PdfReader(io.BytesIO(plan_sheet_pdf(who, NOW))).pages
        face = sheet_face(who, NOW)
        assert len(pages) == 1
        text = squeezed(pages[0].extract_text())
        wanted = [face.title, face.name, face.lead, face.footer]
        for part in face.parts:
            wanted += [part.heading, *part.printed, *(entry.label for entry in part.entries)]
        assert len(wanted) > 35
        assert [words for words in wanted if squeezed(words) not in text] == []
        assert ("mmol" in text) == (unit is GlucoseUnit.MMOL_L)
        assert not any(grams in text for grams in ("10g", "9,0"))  # nothing is filled in


def test_the_sheet_prints_that_ketones_count_at_low_levels_and_basal_insulin_is_never_stopped():
    told = " ".join(line for part in sheet_face(person(), NOW).parts for line in part.printed)
    assert "Check ketones even when the level is low; basal insulin is never stopped without the team." in told
