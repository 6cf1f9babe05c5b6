"""What is left or bought is no amount given; grams of a product are not grams of glucose; who noticed."""

import pytest
from support.variants import BOTTLE, TABLETS

from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.intake import load_words
from gramrise.intake.cells import who_noticed
from gramrise.intake.cells.amounts import read_amount

WORDS = load_words()
SOURCES = (TABLETS, BOTTLE)  # 4 g a piece; 0.25 g a mL


@pytest.mark.parametrize(
    "text",
    [
        "noch drin: 7 Stück in der Dose", "7 Stück noch drin", "7 Stück übrig", "übrig: 7 Stück", "7 pieces remaining",
        "remaining: 7 tabs", "il reste 7 comprimés", "7 comprimés restants", "quedan 7 pastillas", "sobran 7 pastillas",
        "7 tabs; noch drin", "Vorrat 40 Stück",
    ],
)  # fmt: skip
def test_what_is_left_is_a_count(text):
    read = read_amount(text, SOURCES, WORDS)
    assert (read.given, read.question, read.counts) == ((), "", True)


@pytest.mark.parametrize(
    "text",
    ["7 tabs left", "left: 7 tabs", "Rest 7 Stück", "Rest: 7 Stück", "1 full tube of 10 tabs", "bought 20 tabs",
     "20 Stück gekauft", "20 comprimés achetés", "compré 20 pastillas", "eine volle Dose, 24 Stück",
     "10 Stück eingepackt", "refilled 12 tabs", "Dose voll: 24 Stück"],
)  # fmt: skip
def test_what_may_be_left_or_bought_is_a_question_and_never_an_amount(text):
    read = read_amount(text, SOURCES, WORDS)
    assert [one.grams for one in read.given if one.grams is not None] == []
    assert read.question or read.counts


def test_what_is_left_beside_what_was_given_leaves_the_given_amount_alone():
    for text in ("3 tabs, 7 left", "3 Stück, noch 7 übrig", "3 tabs; remaining: 7 tabs"):
        read = read_amount(text, SOURCES, WORDS)
        assert [one.grams for one in read.given] == [12.0], text
        assert (read.question, read.counts) == ("", True)


@pytest.mark.parametrize(
    "text",
    ["10 g gel", "10g Gel", "gel 10 g", "Gel: 10 g", "10 g (gel)", "10 g dextrose gel", "10 g Traubenzuckergel",
     "10 g gel de glucosa", "10 g glucose gel", "20 g syrup", "20 g Sirup", "20 g sirop", "15 g drink",
     "15 g liquid", "12 g tablets", "3 x 4 g tablets", "4 g powder", "10 g night bottle"],
)  # fmt: skip
def test_grams_of_a_form_whose_content_nobody_stated_are_asked_about(text):
    sources = (BOTTLE,) if "bottle" in text else ()
    read = read_amount(text, sources, WORDS)
    assert read.question == "glucose_or_product"
    assert [one.grams for one in read.given] == [None]


@pytest.mark.parametrize(
    ("text", "grams"),
    [("10 g", 10.0), ("10 g glucose", 10.0), ("12 g Traubenzucker", 12.0), ("4 g glucose from gel", 4.0),
     ("4 g Glukose aus Gel", 4.0), ("gel, 4 g glucose", 4.0), ("4 g glucose (gel)", 4.0), ("gel 4 g carbs", 4.0),
     ("4 g KH Gel", 4.0), ("12 g dextrose tablets", 12.0)],
)  # fmt: skip
def test_grams_that_the_words_say_are_glucose_are_taken(text, grams):
    read = read_amount(text, (), WORDS)
    assert ([one.grams for one in read.given], read.question) == ([grams], "")


def test_grams_of_a_gel_that_is_counted_in_pieces_are_asked_about_too():
    gel = Source("gel", Form.GEL, 15.0, None, StatedAs.ANHYDROUS)
    assert read_amount("10 g gel", (gel,), WORDS).question == "glucose_or_product"
    assert [one.grams for one in read_amount("1 gel", (gel,), WORDS).given] == [15.0]


@pytest.mark.parametrize(
    ("text", "who"),
    [("felt low", "child"), ("hat es selbst gemerkt", "child"), ("Sensor Alarm", "sensor"), ("CGM alert", "sensor"),
     ("Mama hat gemerkt", "adult"), ("dad noticed", "adult"), ("maman a remarqué", "adult"), ("mamá notó", "adult"),
     ("3 tabs", ""), ("with mum at home", ""), ("alarm, then felt low", "sensor")],
)  # fmt: skip
def test_the_words_say_who_noticed(text, who):
    assert who_noticed(text, WORDS) == who


@pytest.mark.parametrize(
    "text", ["3 tabs felt low", "Sensor Alarm 3 tabs", "Mama hat gemerkt, 3 tabs", "felt low, 3 tabs"]
)
def test_who_noticed_takes_nothing_from_the_amount(text):
    read = read_amount(text, SOURCES, WORDS)
    assert ([one.grams for one in read.given], read.question) == ([12.0], "")
    assert read.noticed
