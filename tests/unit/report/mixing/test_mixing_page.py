"""The step sheet and the label, in both languages."""

import tomllib
from dataclasses import replace
from datetime import date
from importlib.resources import files
from io import BytesIO
from zoneinfo import ZoneInfo

import pytest
from pypdf import PdfReader

from gramrise.domain.mixtures import Powder
from gramrise.domain.person import Dated, Person
from gramrise.report import mixing_pdf, mixing_view
from gramrise.report.words import flat_words
from gramrise.supplies import Recipe, recipe_for, supplies_settings

RULES = supplies_settings()
BORN = date(2016, 4, 2)
MIA = Person("mia", BORN, Dated(((BORN, ZoneInfo("Europe/Berlin")),)), name="Mia")
RECIPE = recipe_for(0.25, 750, Powder.MONOHYDRATE, RULES)
LANGUAGES = ("en", "de")


def printed(language, recipe=RECIPE, day=None, paper="a4"):
    view = mixing_view(replace(MIA, language=language), "night bottle", recipe, RULES, day, paper)
    pages = PdfReader(BytesIO(mixing_pdf(view, 0))).pages
    assert len(pages) == 1
    return " ".join(pages[0].extract_text().split())


def words_of(language):
    text = (files("gramrise.report") / "words" / f"mixing.{language}.toml").read_text("utf-8")
    return dict(flat_words(tomllib.loads(text), ""))


@pytest.mark.parametrize(
    ("language", "needed"),
    [
        ("en", ("206 g of powder", "“monohydrate”", "medicine strength, not a drink", "2.5 g in 10 mL", "7 days",
                "drinks bottle", "Scald", "our choice", "Use by: 3 Dec 2026", "614 mL")),
        ("de", ("206 g Pulver", "„Monohydrat“", "Arzneistärke, kein Getränk", "2,5 g in 10 mL", "7 Tagen",
                "Trinkflasche", "überbrühen", "unsere Wahl", "3. Dez. 2026", "614 mL")),
    ],
)  # fmt: skip
def test_the_page_says_what_a_tired_parent_needs(language, needed):
    told = printed(language, day=date(2026, 11, 26)).replace("\u00a0", " ")
    missing = [words for words in needed if words not in told]
    assert missing == []


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_with_both_acids_it_is_still_one_page_and_the_milligrams_stand_on_it(language, paper):
    mixture = replace(RECIPE.mixture, citric_acid_mg=750, ascorbic_acid_mg=300)
    told = printed(language, Recipe.of(mixture), paper=paper).replace("\u00a0", " ")
    assert "750 mg" in told
    assert "300 mg" in told


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_plain_recipe_speaks_of_no_added_acid(language):
    told = printed(language)
    assert "mg" not in told


def test_both_languages_hold_the_same_sentences_with_the_same_values():
    import string

    english, german = words_of("en"), words_of("de")
    assert english.keys() == german.keys()
    assert len(english) > 30

    def values(text):
        return {name for _, name, _, _ in string.Formatter().parse(text) if name}

    assert {code for code in english if values(english[code]) != values(german[code])} == set()
