"""A bottle, a fact taken back and an answer say which cards they end, as every typed fact does."""

import json
from dataclasses import replace

import pytest
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.store import Store

LONG_AGO = ("--at", "2026-11-01 10:00")  # two batches of one minute are one told twice
BOTTLE = ("--powder", "anhydrous", "--made-up-to", "100")


@pytest.fixture
def said(tmp_path):
    """Types words into a home with a card for candies and one for a bottle mixed at home; gives the lines told."""

    def typed(*words, keys=None):
        return CliRunner().invoke(app, ["--home", str(tmp_path), *words], input=keys).output.splitlines()

    typed("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31")
    typed("person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "1")
    typed("person", "source", "mia", "night bottle", "--form", "liquid", "--grams-per-ml", "0.25", "--home-mixed")
    typed(
        "mix", "night bottle", *BOTTLE, "--powder-g", "25", "--weighed", "109.8", "--at", "2026-11-01 10:00", "--done"
    )
    typed("person", "plan", "mia", "--below-54-grams", "9", "--look-again-minutes", "15", "--second-grams", "5")
    for source in ("candy", "night bottle"):
        typed("card", "--size", "wallet", "--source", source)
    return typed


def ended(lines):
    """The cards named as ended, each with the first words of the reason."""
    told = " ".join(" ".join(lines).split())
    return [part.split(". Throw")[0] for part in told.split("Card ")[1:]]


@pytest.mark.parametrize("words", [("mix", "--correct", "1"), ("mix", "night bottle", *BOTTLE, "--done")])
def test_a_bottle_of_another_strength_says_that_its_card_has_ended(said, words):
    (told,) = ended(said(*words, "--powder-g", "30", "--weighed", "111.8"))
    assert told.startswith("2 (night bottle) no longer holds: the strength")


def test_a_change_that_is_changed_back_says_which_cards_hold_again(said):
    said("person", "plan", "mia", "--below-54-grams", "12")
    back = said("person", "plan", "mia", "--below-54-grams", "9")
    assert [told.split(". ")[0] for told in ended(back)] == ["1 (candy) holds again", "2 (night bottle) holds again"]


def test_a_new_card_ends_the_one_that_names_other_amounts(said, tmp_path):
    """Two that hang with two amounts: who reads them at night cannot tell which is right."""
    with Store.open(tmp_path) as store:
        card = store.cards_of("mia")[0]
        view = json.loads(card.view)
        for cell in (cell for row in view["rows"] for cell in row["cells"]):
            cell |= {"state": "thin", "reason": "", "grams": 8.0, "amount": 8}
        store.keep_card(replace(card, number=3, view=json.dumps(view)))
    told, again = ended(said("card", "--size", "wallet", "--source", "candy"))
    assert again == "3 (candy) no longer holds: a newer card for the same names other amounts"
    assert told.startswith("1 (candy) holds again")


def test_a_fact_taken_back_says_which_cards_have_ended(said):
    """The plan from which both were made is taken back: neither says any longer what is ordered."""
    number = next(line.split()[0] for line in said("undo") if "care plan" in line)
    why = "no longer holds: the care plan has changed"
    assert ended(said("undo", number)) == [f"1 (candy) {why}", f"2 (night bottle) {why}"]


def test_an_answer_that_makes_a_weight_count_says_which_cards_have_ended(said):
    """A doubted weight counts nowhere, so the cards hold until somebody says that it is meant."""
    assert not ended(said("person", "weigh", "mia", "52"))
    told = ended(said("ask", "--person", "mia", keys="2\ny\n"))
    why = "no longer holds: the body weight has changed"
    assert told == [f"1 (candy) {why}", f"2 (night bottle) {why}"]
