"""Strength from a label, as printed."""

import pytest

from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import AmountUnit
from gramrise.supplies import household_spoons_g, label_strength


@pytest.mark.parametrize(
    ("label", "grams", "unit"),
    [
        ("12 g in 13 pieces", 0.923, AmountUnit.PIECE),
        ("15 g in 60 mL", 0.25, AmountUnit.ML),
        ("2.34 g per 5 mL", 0.468, AmountUnit.ML),
        ("2,34 g pro 5 ml", 0.468, AmountUnit.ML),
        ("7.5 g per 30 mL glass", 0.25, AmountUnit.ML),
        ("4 g per tablet", 4.0, AmountUnit.PIECE),
        ("12 g in 13 Stück", 0.923, AmountUnit.PIECE),
        ("15 g Glucose pro 60 ml Flasche", 0.25, AmountUnit.ML),
        ("15 g of glucose in a 60 mL bottle", 0.25, AmountUnit.ML),
        ("Glucose 4 g per tablet", 4.0, AmountUnit.PIECE),
        ("je Tablette 5,7 g Dextrose", 5.7, AmountUnit.PIECE),
        ("Traubenzucker: 2,9 g je Stück", 2.9, AmountUnit.PIECE),
    ],
)
def test_a_label_gives_grams_per_piece_or_per_ml(label, grams, unit):
    told = label_strength(label)
    assert (round(told.grams_per_unit, 3), told.unit) == (grams, unit)


def test_a_30_ml_glass_of_the_night_liquid_holds_7_5_g():
    assert 30 * label_strength("1.25 g per 5 mL").grams_per_unit == pytest.approx(7.5)


@pytest.mark.parametrize(("label", "code"), [("1 g per teaspoon", "which_spoon"), ("7.5 g in a glass", "which_glass")])
def test_which_spoon_or_glass_is_asked(label, code):
    with pytest.raises(WrongUse) as asked:
        label_strength(label)
    assert asked.value.code == code


@pytest.mark.parametrize(
    "label",
    [
        "",
        "12",
        "12 g",
        "g in 5 mL",
        "12 g in 0 pieces",
        "12 g in 3 boxes",
        "12 mg in 5 mL",
        "40 %",
        "glucose",
        "10 g glucose in 25 g gel",
        "4 g dextrose monohydrate per tablet",
    ],
)
def test_a_text_that_states_no_strength_is_refused(label):
    with pytest.raises(WrongUse):
        label_strength(label)


def test_a_household_spoon_is_a_span_and_only_for_old_entries():
    assert household_spoons_g(2, 0.25) == (pytest.approx(1.25), pytest.approx(3.5))
