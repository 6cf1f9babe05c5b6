"""Page 1: its order, what a number rests on, glucose given, every card, and never more words than two minutes hold."""

import re
from dataclasses import replace
from io import BytesIO

import polars as pl
import pytest
from pypdf import PdfReader
from support.report_people import CARD, NOW, WEEK_END, a_week, everyone

from gramrise.domain.batch import Question
from gramrise.estimate import band_state, estimate_settings
from gramrise.report.lack_view import LackView, lack_views
from gramrise.report.weekly.chapters.document import Heading
from gramrise.report.weekly.chapters.page_one import basis
from gramrise.report.weekly.chapters.report_document import document_of
from gramrise.report.weekly.numbers.build import weekly_view
from gramrise.report.weekly.numbers.view import FactorView
from gramrise.report.weekly.pages.pdf import render_pdf
from gramrise.report.weekly.pages.plain_text import render_text
from gramrise.report.words import words_for


def band(number, pairings):
    fields = dict.fromkeys(FactorView.model_fields)
    told = {
        "single_mg_dl_per_g": (),
        "band": "daytime",
        "hours": "07:00-22:00",
        "state": "thin",
        "pairings_used": pairings,
        "lacks": (LackView(code="treatments", count=8 - pairings),),
    }
    fields["weight_estimated"] = False
    return FactorView(**(fields | told | {"factor_mg_dl_per_g": number, "starting_mg_dl_per_g": 10.0}))


@pytest.mark.parametrize(
    ("number", "pairings", "said"),
    [
        (10.0, 0, "the first guess from the weight table"),
        (8.0, 0, "other hours' treatments"),
        (8.0, 3, "from 3 treatments"),
    ],
)
def test_a_number_moved_by_other_hours_is_not_called_the_weight_tables(number, pairings, said):
    assert said in basis(band(number, pairings), True, False, words_for("en", "mg/dL", "UTC"))


def _headings(view):
    return [block.text for block in document_of(view).blocks if isinstance(block, Heading)]


def test_page_one_tells_the_team_the_answer_the_glucose_the_cards_and_the_questions_in_this_order():
    assert _headings(everyone()["plain"].view())[:5] == [
        "What to tell the team",
        "What 1\u00a0g of glucose does",
        "Glucose given, and what followed",
        "Glucose cards",
        "Questions waiting",
    ]


@pytest.mark.parametrize(
    ("code", "count", "why"),
    [
        ("treatments", 5, "5 more treatments by day"),
        ("treatments", 1, "1 more treatment by day"),
        ("interval", 0, "a narrower range"),
        ("predictions", 0, "readings after treatments to check it by"),
    ],
)
def test_a_number_that_is_still_learning_says_what_it_lacks(code, count, why):
    thin = band(8.0, 3).model_copy(update={"lacks": (LackView(code=code, count=count),)})
    said = basis(thin, True, False, words_for("en", "mg/dL", "UTC"))
    assert said.startswith("still learning, from 3 treatments")
    assert said.endswith(f"lacks: {why}")


def test_what_a_thin_number_lacks_comes_from_the_same_rule_as_on_the_card():
    inputs, found = a_week()
    thin = found.factors.with_columns(state=pl.lit("thin"), pairings_used=pl.lit(3, dtype=pl.Int32))
    view = weekly_view(inputs, replace(found, factors=thin), week_end=WEEK_END, now_utc=NOW)
    for factor in view.factors:
        state = band_state(inputs.person, replace(found, factors=thin), factor.band, NOW, estimate_settings().state)
        assert factor.lacks == lack_views(state) != ()
    assert len(view.factors) == 2


def test_an_own_number_has_no_excuse():
    own = everyone()["plain"].view().factors[0]
    assert (own.state, own.lacks) == ("own", ())


def _text(view):
    return " ".join(render_text(view).split())


def test_as_many_times_are_counted_as_numerals_are_drawn():
    """Two amounts within an hour are one treatment, but two numerals."""
    inputs, found = a_week()
    second = inputs.doses.head(1).with_columns(pl.col("taken_at_utc") + pl.duration(minutes=17))
    doses = pl.concat([inputs.doses, second]).sort("taken_at_utc")
    view = weekly_view(replace(inputs, doses=doses), found, week_end=WEEK_END, now_utc=NOW)
    drawn = sum(len(strip.doses) for strip in view.strips)
    assert drawn == 5
    assert "Glucose was given 5 times, 27.6 g in all. 4 treatments, 3 measured. Amounts within an hour" in _text(view)


def test_what_followed_is_told_without_blame():
    view = everyone()["plain"].view()
    assert view.given_week.above_180_n == 1
    assert "After 1 of them a reading above 180 followed within two hours." in _text(view)
    calm = view.model_copy(update={"given_week": view.given_week.model_copy(update={"above_180_n": 0})})
    assert "No reading above 180 followed within two hours." in _text(calm)


def test_every_card_that_is_out_has_its_line_the_void_ones_first():
    cards = (
        CARD,
        CARD.model_copy(update={"number": 13, "source": "bottle"}),
        CARD.model_copy(update={"number": 9, "for_school": True, "void_because": ("weight",)}),
    )
    inputs, found = a_week()
    view = weekly_view(inputs, found, week_end=WEEK_END, now_utc=NOW, cards=cards)
    assert [card.number for card in view.cards] == [9, 12, 13]
    told = _text(view)
    places = [
        told.index(part) for part in ("Card 9 (school) no longer holds", "Card 12 still", "Card 13 (bottle) still")
    ]
    assert places == sorted(places)


@pytest.mark.parametrize(("held", "asked_of"), [(0, "And 6 more."), (1, "7 questions: gramrise ask.")])
def test_a_page_with_too_much_on_it_counts_what_it_cannot_show_and_stays_short(held, asked_of):
    void = CARD.model_copy(update={"void_because": ("weight",)})
    cards = [void.model_copy(update={"number": n, "source": "glucose tablets"}) for n in range(1, 7)]
    about = {"taken_at_utc": "2026-11-20T02:10:00+00:00", "text": "three or four", "amount": 3.0}
    asked = [Question("mia", "bare_amount", str(k), "asked", (), about) for k in range(7)]
    case = everyone()["four_bands"]
    view = weekly_view(
        case.inputs, case.findings, week_end=WEEK_END, now_utc=NOW, cards=cards, questions=asked, files_held=held
    )
    pages = PdfReader(BytesIO(render_pdf(view))).pages
    assert len(re.findall(r"\w[\w'’.,/–-]*", pages[0].extract_text())) < 250
    told = _text(view)
    assert "Cards 1, 2, 3, 4, 5, 6 (glucose tablets) no longer hold" in told
    assert asked_of in told.replace("`", "")


@pytest.mark.parametrize(
    ("held", "told"), [(0, "None."), (1, "1 file waits: nothing of it"), (3, "3 files wait: nothing")]
)
def test_page_one_names_files_that_wait_beside_the_questions(held, told):
    inputs, found = a_week()
    view = weekly_view(inputs, found, week_end=WEEK_END, now_utc=NOW, files_held=held)
    waiting = _text(view).partition("QUESTIONS WAITING")[2][:60]
    assert told in waiting


@pytest.mark.parametrize(
    ("set_aside", "told"),
    [
        ([("night.txt", 1)], "1 line of night.txt was not read: gramrise import FILE --retry shows it."),
        ([("a.txt", 1), ("a.txt", 2), ("b.txt", 1), ("c.txt", 3)], "7 lines of a.txt, b.txt, … were not read"),
    ],
)
@pytest.mark.parametrize("held", [0, 1])
def test_page_one_never_says_none_beside_lines_that_could_not_be_read(set_aside, told, held):
    inputs, found = a_week()
    view = weekly_view(inputs, found, week_end=WEEK_END, now_utc=NOW, set_aside=set_aside, files_held=held)
    waiting = _text(view).partition("QUESTIONS WAITING")[2][:400].replace("`", "")
    assert told in waiting
    assert ("1 file waits" in waiting) == bool(held)
    assert "None." not in waiting[:60]


def test_a_week_that_is_not_over_says_so():
    inputs, found = a_week()
    before_noon = NOW.replace(hour=8)
    view = weekly_view(inputs, found, week_end=WEEK_END, now_utc=before_noon)
    assert "Sun 15 Nov to Sun 22 Nov 2026, noon to noon; the last is not over yet" in _text(view)
    assert "not over yet" not in _text(everyone()["plain"].view())
