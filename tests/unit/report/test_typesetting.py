"""The typesetter's own fonts: which letters can be printed on a computer that has no fonts of its own."""

import pytest

from gramrise.report.typesetting import can_print


@pytest.mark.parametrize("letter", ["a", "ß", "Ł", "ж", "Ω", "ש", "م", "–", "□"])
def test_names_in_latin_greek_cyrillic_hebrew_and_arabic_letters_need_no_other_font(letter):
    assert can_print(letter)


@pytest.mark.parametrize("letter", ["王", "🍬", "አ", "\ud800"])
def test_a_letter_that_the_typesetters_fonts_lack_is_known_to_be_lacking(letter):
    assert not can_print(letter)
