"""The pages in words: danger first, never a cause, both languages, every statement two clicks from its treatments."""

import re

import pytest
from support.report_people import NOW
from support.review_people import drift_line, everyone, sign_off

from gramrise.report.review.chapters import blocks
from gramrise.report.review.chapters.blocks import Link, PageKind, Place, plain
from gramrise.report.review.chapters.course_picture import course_picture
from gramrise.report.review.chapters.drift_words import drift_sentence
from gramrise.report.review.chapters.frame import words_of
from gramrise.report.review.chapters.pairing_picture import TraceFrame
from gramrise.report.review.chapters.pairings_page import pairings_page
from gramrise.report.review.chapters.panel_page import panel_page
from gramrise.report.review.chapters.person_page import person_page
from gramrise.report.review.chapters.sign_off_words import sign_off_line
from gramrise.report.review.chapters.visit_page import visit_page
from gramrise.report.review.numbers.panel import panel_line, panel_of
from gramrise.report.review.settings import DEFAULT
from gramrise.report.words import words_for

ENGLISH = words_for("en", "mg/dL", "Europe/Berlin")
PAGES = (person_page, pairings_page, visit_page)


def _texts(page):
    found = [page.heading, page.subtitle]
    for block in page.blocks:
        match block:
            case blocks.Heading(text):
                found.append(text)
            case blocks.Paragraph(line):
                found.append(plain(line))
            case blocks.Items(lines):
                found += [plain(line) for line in lines]
            case blocks.Table(_, head, _, rows):
                found += [*head, *(plain(cell) for row in rows for cell in (*row.cells, row.note))]
            case blocks.Figure(_, alt, caption):
                found += [alt, caption]
            case blocks.Smalls(pictures):
                found += [text for one in pictures for text in (one.title, one.alt, *map(plain, one.lines))]
    return [text.replace("\u00a0", " ") for text in found if text]


def _links(page):
    lines = [page.ways]
    for block in page.blocks:
        match block:
            case blocks.Paragraph(line):
                lines.append(line)
            case blocks.Items(told):
                lines += told
            case blocks.Table(_, _, _, rows):
                lines += [cell for row in rows for cell in (*row.cells, row.note)]
    return [piece for line in lines for piece in line if isinstance(piece, Link)]


def _panel(*reviews, language="en"):
    lines = [panel_line(review, DEFAULT) for review in reviews]
    return panel_page(panel_of(lines, language=language, written_at_utc=NOW, settings=DEFAULT))


def test_a_persons_page_begins_with_the_danger_and_then_the_change():
    first, *rest = _texts(person_page(everyone()["signed"]))[2:]
    assert first == "In the last 28 days: 1 night with a low and nothing written down. Look at them"
    assert rest[0].startswith("Daytime 07:00–22:00: 1 g raises 24% less than signed on 17 Nov 2026")


def test_from_the_panel_a_statement_is_two_clicks_from_its_treatments():
    review = everyone()["signed"]
    to_person = [link.to for link in _links(_panel(review)) if link.to.kind is PageKind.PERSON]
    assert to_person
    assert set(to_person) == {Place(PageKind.PERSON, "mia")}
    parts = {link.to.part for link in _links(person_page(review)) if link.to.kind is PageKind.PAIRINGS}
    smalls = next(block for block in pairings_page(review).blocks if isinstance(block, blocks.Smalls))
    assert len(smalls.pictures) == len(review.pairings) == 3
    assert {one.part for one in smalls.pictures} <= parts


def test_a_change_and_what_else_changed_are_never_joined_by_a_cause():
    english = [everyone()[name] for name in ("signed", "unsigned")]
    told = " ".join(text for review in english for make in PAGES for text in _texts(make(review)))
    assert "Insulin delivery: pump" in told
    assert re.findall(r"\b(because|due to|caused|therefore|as a result|led to|explains why)\b", told) == []
    german = " ".join(text for make in PAGES for text in _texts(make(everyone()["german_mmol"])))
    assert re.findall(r"\b(weil|wegen|verursacht|infolge|deshalb|aufgrund)\b", german) == []


@pytest.mark.parametrize("name", ["signed", "unsigned", "german_mmol", "no_data", "hostile"])
def test_every_page_of_everybody_can_be_said(name):
    made = [make(everyone()[name]) for make in PAGES]
    assert [page.place.kind for page in made] == [PageKind.PERSON, PageKind.PAIRINGS, PageKind.VISIT]
    assert min(len(_texts(page)) for page in made) >= 4


def test_a_german_familys_pages_speak_german_and_their_unit():
    told = " ".join(_texts(person_page(everyone()["german_mmol"])))
    assert "1 g hebt um etwa 0,39 mmol/L" in told
    assert "mg/dL" not in told


def test_bare_words_of_the_other_household_are_not_used():
    told = " ".join(text for make in PAGES for text in _texts(make(everyone()["signed"])))
    assert re.findall(r"\b[Dd]oses?\b|\b[Ff]actors?\b|\b[Tt]ime in range\b", told) == []


def test_a_page_without_a_panel_leads_to_none():
    kinds = {link.to.kind for link in _links(person_page(everyone()["signed"], with_panel=False))}
    assert PageKind.PANEL not in kinds
    assert PageKind.PANEL in {link.to.kind for link in _links(person_page(everyone()["signed"]))}


def test_a_sign_off_tells_everything_that_was_recorded_and_that_a_name_is_no_proof():
    told = " ".join(_texts(person_page(everyone()["signed"])))
    for said in (
        "accepted on 17 November 2026 by Dr. A. Example (diabetologist)", "Valid until 17 May 2027", "29.0 kg",
        "basal profile 3", "tablets 0.92 g a piece", "Data from 1 March 2026 to 17 November 2026",
        "3 × Other carbohydrate", "for a low 9 g", "Cards superseded: 12", "Told: both parents", "again in spring",
        "Model 5", "A typed name is no authentication.", "not accepted",
    ):  # fmt: skip
        assert said in told


def test_a_reference_that_no_longer_holds_says_why():
    ended = sign_off(holds_not=("delivery", "expired"))
    assert sign_off_line(ended, ENGLISH).endswith("It no longer holds: insulin delivery has changed, past its date.")


@pytest.mark.parametrize(("ratio", "said"), [(0.76, "24% less"), (1.2, "20% more"), (1.01, "as much as")])
def test_a_ratio_is_told_in_whole_percent_and_a_small_one_as_none(ratio, said):
    assert said in drift_sentence(drift_line(ratio=ratio), ENGLISH)


def test_the_panel_counts_and_names_the_share_of_false_alarms():
    told = _texts(_panel(everyone()["signed"], everyone()["no_data"]))
    assert "1 with dangerous lows; 1 whose number moved." in told
    assert "Of this list about 3% are expected to be false alarms." in told
    assert _texts(_panel())[2] == "Nobody is known yet."


def test_the_course_draws_the_signed_number_growth_alone_and_when_the_change_came():
    review = everyone()["signed"]
    figure = course_picture(review.courses[0], review.weeks, review.happened, review.data_on, words_of(review))
    assert figure.svg.count("<circle") == len(review.courses[0].points) == 13
    assert "stroke-dasharray" in figure.svg
    assert "signed 17 Nov 2026: 9.3" in figure.svg
    assert "changed about 19 Nov 2026" in figure.svg
    assert "9.3 was signed on 17 Nov 2026" in figure.alt


def test_a_trace_is_black_on_white_with_its_grams_as_numerals():
    review = everyone()["signed"]
    svg = TraceFrame.of(review, words_of(review)).svg(review.pairings[0])
    assert ">5.5<" in svg
    colours = set(re.findall(r"#[0-9a-f]{6}", svg))
    assert {colour for colour in colours if len({colour[1:3], colour[3:5], colour[5:7]}) != 1} == set()
    assert len(colours) >= 3


@pytest.mark.parametrize("who", ["signed", "german_mmol"])
def test_the_body_weight_stands_with_the_day_of_its_weighing(who):
    review = everyone()[who]
    assert review.weighed_on is not None
    day = words_of(review).day(review.weighed_on, "medium")
    kg = words_of(review).number(review.weight_kg, 1)
    subtitle = person_page(review).subtitle.replace("\u00a0", " ")
    assert re.search(rf"{re.escape(kg)} kg \((?:weighed|gewogen) {re.escape(day)}\)", subtitle)
