"""Mixtures against the check values of chemistry C01-C17; each names its own source."""

import json
import os
from pathlib import Path

import pytest

from gramrise.domain.mixtures import Mixture, Powder, WaterBy
from gramrise.domain.units import GLUCOSE_PER_MONOHYDRATE
from gramrise.supplies import solution_of, supplies_settings
from gramrise.supplies.labels import LABEL_TEASPOON_ML
from gramrise.supplies.solutions import (
    MOST_MASS_PERCENT,
    WATER_G_PER_ML,
    density_g_per_ml,
    mass_percent_of,
    strength_g_per_ml,
)

pytestmark = pytest.mark.outside
RULES = supplies_settings()


@pytest.fixture(scope="module")
def value():
    folder = os.environ.get("GRAMRISE_OUTSIDE_DATA")
    if not folder or not (Path(folder) / "science" / "check_values.json").is_file():
        pytest.skip("GRAMRISE_OUTSIDE_DATA names no folder with science/check_values.json: NOT RUN")
    values = json.loads((Path(folder) / "science" / "check_values.json").read_text("utf-8"))["values"]
    return {entry["id"]: entry["value"] for entry in values if entry["id"].startswith("C")}


def test_a_gram_of_monohydrate_holds_the_published_glucose_c01_c02(value):
    glucose, monohydrate = value["C01"]
    assert glucose / monohydrate == pytest.approx(GLUCOSE_PER_MONOHYDRATE, rel=1e-4)
    assert value["C02"] == pytest.approx(GLUCOSE_PER_MONOHYDRATE, abs=1e-5)


def test_density_and_grams_per_ml_follow_the_table_c03_c04(value):
    assert len(value["C03"]) > 30
    for percent, density in value["C03"].items():
        assert density_g_per_ml(float(percent)) == density
    for percent, grams in zip((5, 10, 20, 30, 40, 50, 60), value["C04"], strict=True):
        assert strength_g_per_ml(percent) == pytest.approx(grams, abs=6e-5)


def test_a_strength_is_traced_back_to_percent_density_and_water_c05(value):
    wanted = (0.10, 0.15, 0.20, 0.25, 0.30, 0.40, 0.50, 0.60)
    rows = list(zip(wanted, *value["C05"].values(), strict=True))
    assert len(rows) == 8
    for strength, percent, density, water in rows:
        found = mass_percent_of(strength)
        assert found == pytest.approx(percent, abs=0.01)
        assert density_g_per_ml(found) == pytest.approx(density, abs=2e-4)
        made = solution_of(Mixture(Powder.ANHYDROUS, 100 * strength, WaterBy.MADE_UP_TO, 100))
        assert made.water_g == pytest.approx(water, abs=0.06)


def test_a_gram_of_glucose_takes_up_0_63_ml_c06(value):
    made = solution_of(Mixture(Powder.ANHYDROUS, 100, WaterBy.ADDED_TO, 100))
    assert (made.volume_ml - 100) / 100 == pytest.approx(value["C06"]["at_50pct"], abs=0.002)


def test_recipes_give_the_worked_volumes_and_strengths_c07_c08(value):
    assert len(value["C07"]) == 5
    for grams, water, volume, strength in value["C07"]:
        made = solution_of(Mixture(Powder.ANHYDROUS, grams, WaterBy.ADDED_TO, water))
        assert made.volume_ml == pytest.approx(volume, abs=0.1)
        assert made.strength_g_per_ml == pytest.approx(strength, abs=2e-4)
    volume, strength = value["C08"]
    made = solution_of(Mixture(Powder.MONOHYDRATE, 100, WaterBy.ADDED_TO, 100))
    assert made.volume_ml == pytest.approx(volume, abs=0.2)
    assert made.strength_g_per_ml == pytest.approx(strength, abs=5e-4)


def test_bounds_keep_within_what_stays_dissolved_c09_to_c11(value):
    """Below 50 C the hydrate is the solid, so what dissolves in the cold is C10's 54 g in 100 g of water."""
    cold, room = value["C10"]["0"], value["C10"]["25"]
    assert RULES.cooled_water_c < value["C09"]["transition_C"]
    assert RULES.strongest_in_the_cold_g_per_ml <= strength_g_per_ml(100 * cold / (100 + cold)) + 0.005
    assert RULES.strongest_in_a_room_g_per_ml <= strength_g_per_ml(100 * room / (100 + room)) + 0.005
    assert strength_g_per_ml(MOST_MASS_PERCENT) > RULES.strongest_in_a_room_g_per_ml
    assert value["C11"]["fridge_0_to_4C"] == f"about {RULES.strongest_in_the_cold_g_per_ml:.2f} g/mL"


def test_heating_is_the_milk_rule_with_what_sugar_adds_c12(value):
    (low, low_s), (high, high_s), more = (
        value["C12"]["low"],
        value["C12"]["high"],
        value["C12"]["extra_for_added_sweetener_C"],
    )
    assert (RULES.heating_low_c, 60 * RULES.heating_low_minutes) == (low + more, low_s)
    assert (RULES.heating_high_c, RULES.heating_high_seconds) == (high + more, high_s)


def test_the_plain_recipe_has_no_acid_so_no_acid_rule_is_claimed_c13_to_c15():
    plain = Mixture(Powder.ANHYDROUS, 188, WaterBy.MADE_UP_TO, 750)
    assert (plain.citric_acid_mg, plain.ascorbic_acid_mg) == (0, 0)


def test_a_label_teaspoon_is_5_ml_and_not_the_us_customary_one_c16_c17(value):
    assert value["C16"]["tsp"] == LABEL_TEASPOON_ML
    assert value["C17"]["tsp_us"] / LABEL_TEASPOON_ML == pytest.approx(0.986, abs=0.001)
    assert density_g_per_ml(0) == WATER_G_PER_ML
