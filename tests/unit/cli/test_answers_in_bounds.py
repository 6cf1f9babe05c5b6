"""What an answer of `ask` makes of an amount is bounded as what is typed: nobody's 5 becomes 200 g of glucose."""

import json

import pytest
from typer.testing import CliRunner

from gramrise.cli.main import app

GERMAN = ("--language", "de")


def typed(home, *words, answers=""):
    return CliRunner().invoke(app, ["--home", str(home), *words], input=answers)


def family(home, *told):
    """A child of 40 kg with candies of 4 g."""
    typed(home, "person", "add", "liv", "--born", "2014-02-03", "--zone", "Europe/Berlin", "--weight-kg", "40", *told)
    typed(home, "person", "source", "liv", "candy", "--form", "tablet", "--grams-per-piece", "4", "--stated-as",
          "anhydrous")  # fmt: skip
    return home


def bare(home, *numbers):
    """Bare numbers of a note, at 01:10, 02:10 ..."""
    note = home.parent / "bare.txt"
    note.write_text("2026-03-02\n" + "".join(f"{at:02}:10 {number}\n" for at, number in enumerate(numbers, start=1)))
    typed(home, "import", str(note))


def grams(home):
    told = json.loads(typed(home, "treatments", "--json").stdout)["treatments"]
    return [row["grams"] for row in told]


@pytest.fixture
def home(tmp_path):
    return family(tmp_path / "home")


def test_each_reading_of_a_bare_number_shows_the_grams_behind_it(home):
    bare(home, "50")
    shown = typed(home, "ask", answers="\n").output
    assert "1  pieces of candy: 50 = 200 g" in shown
    assert "2  the number is grams: 50 g" in shown


def test_two_hundred_grams_are_no_answer_and_the_screen_says_why(home):
    bare(home, "50")
    shown = typed(home, "ask", answers="1\n\n").output
    assert "200 g of glucose: so much at once is not likely" in shown
    assert "0 answered, 1 left for later" in shown
    assert grams(home) == [None]


@pytest.mark.parametrize(("sure", "count"), [("y", [50.0]), ("", [None])])
def test_fifty_grams_for_forty_kg_are_asked_about_before_they_count(home, sure, count):
    bare(home, "50")
    shown = typed(home, "ask", answers=f"2\n{sure}\n").output
    assert "50 g of glucose, 40 kg: that is much for one treatment. Is it meant?" in shown
    assert grams(home) == count


def test_grams_typed_in_that_are_too_many_are_refused_with_the_reason_and_asked_again(home):
    bare(home, "50")
    shown = typed(home, "ask", answers="grams\n500\n5\n").output
    assert "500 g of glucose: so much at once is not likely" in shown
    assert grams(home) == [5.0]


def test_one_answer_for_all_leaves_out_the_numbers_that_would_be_so_much(home):
    bare(home, "2", "3", "30", "2", "11", "50")
    shown = typed(home, "ask", answers="1\ny\n\n\n\n").output
    assert "pieces of candy (2 more)?" in shown
    assert "pieces of candy: 30 = 120 g" in shown
    assert "3 answered, 3 left for later" in shown
    assert sorted(grams(home), key=lambda one: one or 99) == [8.0, 8.0, 12.0, None, None, None]


def test_a_large_amount_that_was_asked_about_is_not_asked_about_twice(home):
    typed(home, "give", "50 g", "--at", "2026-03-02 02:10")
    shown = typed(home, "ask", answers="1\n").output
    assert "1  the number is grams: 50 g" in shown
    assert "1 answered" in shown
    assert grams(home) == [50.0]


def test_grams_of_a_source_that_are_meant_count_as_grams_of_it(home):
    typed(home, "person", "source", "liv", "dextrose", "--form", "liquid", "--grams-per-ml", "0.25", "--stated-as",
          "monohydrate")  # fmt: skip
    typed(home, "give", "50 g dextrose", "--at", "2026-03-02 02:10")
    typed(home, "ask", answers="1\n")
    assert grams(home) == [pytest.approx(45.5, abs=0.1)]


def test_a_german_family_reads_the_reason_in_german(tmp_path):
    home = family(tmp_path / "home", *GERMAN)
    bare(home, "50")
    shown = typed(home, "ask", answers="1\n2\nj\n").output
    assert "Stück von candy: 50 = 200 g" in shown
    assert "200 g Traubenzucker: so viel auf einmal ist nicht wahrscheinlich" in shown
    assert "50 g Traubenzucker, 40 kg: Das ist viel für eine Behandlung. Ist es so gemeint?" in shown
    assert grams(home) == [50.0]
