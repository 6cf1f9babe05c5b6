"""Mixing: the rules of the trade, the check values of chemistry, and what a failed check withholds."""

from dataclasses import replace

import pytest

from gramrise.domain.mixtures import Mixture, Powder, WaterBy
from gramrise.domain.problems import WrongUse
from gramrise.supplies import (
    Recipe,
    cost_for,
    recipe_for,
    saving_percent,
    solution_of,
    supplies_settings,
    trusted_strength,
    weight_check,
)

RULES = supplies_settings()
LINE_750 = Mixture(Powder.ANHYDROUS, 188, WaterBy.MADE_UP_TO, 750)


def test_188_g_made_up_to_750_ml_are_1_25_g_in_5_ml_and_from_monohydrate_1_14():
    """Source: common practice, no source."""
    assert 5 * solution_of(LINE_750).strength_g_per_ml == pytest.approx(1.25, abs=0.005)
    assert 5 * solution_of(replace(LINE_750, powder=Powder.MONOHYDRATE)).strength_g_per_ml == pytest.approx(
        1.14, abs=0.005
    )


def test_the_recipe_for_1_25_g_in_5_ml_takes_188_g_for_750_ml_and_125_g_for_500_ml():
    assert recipe_for(0.25, 750, Powder.ANHYDROUS, RULES).mixture.powder_g == 188
    assert recipe_for(0.25, 500, Powder.ANHYDROUS, RULES).mixture.powder_g == 125
    assert recipe_for(0.25, 500, Powder.MONOHYDRATE, RULES).mixture.powder_g == 137


def test_that_mixture_weighs_about_811_g():
    """Source: common practice, no source; ours, by the table of densities, is 819 g, within 3 %."""
    assert solution_of(LINE_750).total_g == pytest.approx(811, rel=0.03)


def test_made_up_to_and_added_to_the_same_number_differ_by_more_than_a_tenth():
    line, poured = (solution_of(Mixture(Powder.ANHYDROUS, 188, by, 750)) for by in WaterBy)
    assert line.strength_g_per_ml / poured.strength_g_per_ml > 1.1
    assert poured.volume_ml > 860


def test_a_recipe_by_line_and_by_poured_water_is_the_same_bottle():
    recipe = Recipe.of(LINE_750)
    poured = solution_of(Mixture(Powder.ANHYDROUS, 188, WaterBy.ADDED_TO, recipe.water_added_ml))
    assert poured.volume_ml == pytest.approx(750, abs=0.5)
    assert poured.strength_g_per_ml == pytest.approx(recipe.solution.strength_g_per_ml, rel=1e-3)


@pytest.mark.parametrize("weighed", [795, 843])
def test_a_weight_within_3_percent_keeps_the_strength(weighed):
    assert trusted_strength(replace(LINE_750, weighed_g=weighed), RULES) == pytest.approx(0.2507, abs=1e-4)


@pytest.mark.parametrize("weighed", [760, 938])
def test_a_weight_further_off_withholds_the_strength(weighed):
    """938 g is the line mistaken for water to be poured on."""
    mixture = replace(LINE_750, weighed_g=weighed)
    assert trusted_strength(mixture, RULES) is None
    check = weight_check(mixture, RULES)
    assert check is not None
    assert not check.passed
    assert check.expected_g == pytest.approx(819, abs=1)


def test_a_liquid_that_would_form_crystals_in_the_cold_is_refused():
    with pytest.raises(WrongUse, match="crystals in the refrigerator"):
        recipe_for(0.5, 500, Powder.ANHYDROUS, RULES)
    with pytest.raises(WrongUse, match="even at room temperature"):
        recipe_for(0.7, 500, Powder.ANHYDROUS, RULES)
    assert recipe_for(0.39, 500, Powder.ANHYDROUS, RULES).mixture.powder_g == 195


@pytest.mark.parametrize(("powder_g", "ml"), [(0, 500), (100, 0), (-1, 500)])
def test_nothing_cannot_be_mixed(powder_g, ml):
    with pytest.raises(WrongUse, match="above zero"):
        Mixture(Powder.ANHYDROUS, powder_g, WaterBy.MADE_UP_TO, ml)


def test_more_powder_than_dissolves_is_refused():
    with pytest.raises(WrongUse, match="do not dissolve"):
        solution_of(Mixture(Powder.ANHYDROUS, 900, WaterBy.MADE_UP_TO, 750))
    with pytest.raises(WrongUse, match="do not dissolve"):
        solution_of(Mixture(Powder.ANHYDROUS, 900, WaterBy.ADDED_TO, 100))


def test_15_against_200_cents_a_bottle_saves_92_percent():
    assert saving_percent(15, 200) == 92
    assert cost_for(15, 10, Powder.ANHYDROUS) == pytest.approx(0.15)
    assert cost_for(15, 10, Powder.MONOHYDRATE) == pytest.approx(0.165, abs=1e-4)
    with pytest.raises(WrongUse):
        saving_percent(15, 0)


def test_a_weight_in_kg_is_no_weight_in_g():
    recipe = Mixture(Powder.MONOHYDRATE, 206, WaterBy.MADE_UP_TO, 750)
    expected = weight_check(replace(recipe, weighed_g=1), RULES).expected_g
    with pytest.raises(WrongUse, match=r"0\.82 is the weight in kg"):
        trusted_strength(replace(recipe, weighed_g=0.82), RULES)
    assert trusted_strength(replace(recipe, weighed_g=expected), RULES) == pytest.approx(0.25, abs=0.001)
    assert trusted_strength(replace(recipe, weighed_g=1.9), RULES) is None
