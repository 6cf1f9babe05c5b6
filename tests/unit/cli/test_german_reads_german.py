"""What a German family reads at the terminal is German, with German numbers."""

import pytest

from gramrise.cli.context import Household
from gramrise.cli.guided_add import name_recipient
from gramrise.domain.batch import ImportSummary
from gramrise.report.screens import screen_words
from gramrise.report.spoken.imports import import_sentence
from gramrise.report.spoken.questions import answer_words

GERMAN = screen_words("de")


@pytest.mark.parametrize("kind", ["unknown_source", "dose_amount"])
def test_grams_that_were_answered_are_said_with_a_comma_and_as_grams(kind):
    assert answer_words("grams:12.5", kind, GERMAN) == "12,5 g Traubenzucker"
    assert answer_words("grams:12.5", kind, screen_words("en")) == "12.5 g of glucose"


@pytest.mark.parametrize(("layout", "said"), [("recognised", "erkannt"), ("text-note", "Notiz"), ("mine", "mine")])
def test_how_a_file_was_read_is_said_in_german_and_a_layouts_own_name_stays(layout, said):
    summary = ImportSummary("log.csv", layout, 2, 0, 0, 0, 0, 0)
    assert import_sentence(summary, GERMAN).startswith(f"log.csv ({said}):")


def test_who_gets_the_weekly_mail_is_told_in_german(tmp_path):
    told = name_recipient(Household(tmp_path), "mia", "mama@example.org", GERMAN)
    assert told.startswith("Die Wochenmail geht an mama@example.org")
    assert "Für die Wochenmail" in name_recipient(Household(tmp_path), "ben", "mama@example.org", GERMAN)


def test_the_lines_of_a_plan_that_name_a_level_name_its_unit():
    for language in ("de", "en"):
        assert "54 mg/dL" in screen_words(language).say("plan_line.below_54_grams")
    assert "70 bis 79 mg/dL" in GERMAN.say("plan_line.early_grams")
    assert "70 bis 79 mg/dL" in GERMAN.say("plan_line.early_grams_allowed")
