"""Mixing a liquid: the recipe for a wanted strength, and the strength of what was mixed. Pure arithmetic at 20 C."""

from dataclasses import dataclass
from math import floor

from gramrise.domain.mixtures import MOST, Mixture, Powder, WaterBy
from gramrise.domain.problems import WrongUse
from gramrise.supplies.settings import SuppliesSettings
from gramrise.supplies.solutions import (
    MOST_MASS_PERCENT,
    WATER_G_PER_ML,
    density_g_per_ml,
    mass_percent_of,
    strength_g_per_ml,
)


@dataclass(frozen=True, slots=True)
class Solution:
    """A finished liquid."""

    strength_g_per_ml: float  # grams of anhydrous glucose per mL
    volume_ml: float
    total_g: float
    water_g: float  # water that is poured in; a monohydrate brings 9 % of its weight along


@dataclass(frozen=True, slots=True)
class Recipe:
    """Powder and water for a wanted liquid, powder in whole grams as kitchen scales show them."""

    mixture: Mixture
    solution: Solution
    water_added_ml: float  # the same recipe when water is measured out instead of filled up to a line

    @classmethod
    def of(cls, mixture: Mixture) -> "Recipe":
        """The recipe of a mixture as it is. Raises WrongUse where no such solution exists."""
        made = solution_of(mixture)
        return cls(mixture, made, water_added_ml=made.water_g / WATER_G_PER_ML)


def recipe_for(wanted_g_per_ml: float, volume_ml: float, powder: Powder, rules: SuppliesSettings) -> Recipe:
    """The recipe for `volume_ml` of a wanted strength. Raises WrongUse where it would not stay dissolved."""
    if not (wanted_g_per_ml > 0 and volume_ml > 0):
        raise WrongUse("strength and volume must be above zero", "write them as 1.25 g per 5 mL and 750 mL")
    refuse_too_strong(wanted_g_per_ml, rules)
    if volume_ml > MOST:
        raise WrongUse("no kitchen mixes so much at once", f"look at the number: at most {MOST:,.0f} mL")
    powder_g = float(max(1, round(wanted_g_per_ml * volume_ml / powder.glucose_share)))
    return Recipe.of(Mixture(powder, powder_g, WaterBy.MADE_UP_TO, volume_ml))


def solution_of(mixture: Mixture) -> Solution:
    """The liquid that a mixture gives. Raises WrongUse where no such solution exists."""
    return _made_up(mixture) if mixture.water_by is WaterBy.MADE_UP_TO else _added(mixture)


def _made_up(mixture: Mixture) -> Solution:
    strength = mixture.glucose_g / mixture.ml
    try:
        total_g = density_g_per_ml(mass_percent_of(strength)) * mixture.ml
    except ValueError as problem:
        raise _no_solution(mixture) from problem
    return Solution(strength, mixture.ml, total_g, total_g - mixture.powder_g)


def _added(mixture: Mixture) -> Solution:
    water_g = mixture.ml * WATER_G_PER_ML
    total_g = mixture.powder_g + water_g
    percent = 100 * mixture.glucose_g / total_g
    if percent > MOST_MASS_PERCENT:
        raise _no_solution(mixture)
    return Solution(strength_g_per_ml(percent), total_g / density_g_per_ml(percent), total_g, water_g)


def _no_solution(mixture: Mixture) -> WrongUse:
    return WrongUse(
        f"{mixture.powder_g:g} g of powder do not dissolve in that much water",
        "look at the grams and the mL; is the line of the bottle meant, or the water added?",
    )


def refuse_too_strong(strength: float, rules: SuppliesSettings) -> None:
    """Raises WrongUse for a strength that would not stay dissolved in a refrigerator."""
    cold, room = rules.strongest_in_the_cold_g_per_ml, rules.strongest_in_a_room_g_per_ml
    if strength > cold:
        where = "even at room temperature" if strength > room else "in the refrigerator, where it must be kept"
        raise WrongUse(
            f"{strength:.2f} g of glucose per mL would form crystals {where}; what is left then is weaker than its "
            "label",
            f"at most {cold:.2f} g per mL, which is {10 * cold:g} g in 10 mL",
            "too_strong",
        )


@dataclass(frozen=True, slots=True)
class WeightCheck:
    """The finished mixture on the scale against what it must weigh."""

    expected_g: float
    weighed_g: float
    share_off: float  # (weighed - expected) / expected
    passed: bool


def weight_check(mixture: Mixture, rules: SuppliesSettings) -> WeightCheck | None:
    """Whether scale and line agree; None where the mixture was not weighed."""
    if mixture.weighed_g is None:
        return None
    expected = solution_of(mixture).total_g
    off = (mixture.weighed_g - expected) / expected
    return WeightCheck(expected, mixture.weighed_g, off, abs(off) <= rules.weight_check_share)


def trusted_strength(mixture: Mixture, rules: SuppliesSettings) -> float | None:
    """Grams of glucose per mL; None where the weight contradicts the recipe, so that nobody knows the strength.

    raises WrongUse for a weight in kg
    """
    check = weight_check(mixture, rules)
    if check is not None and not check.passed:
        in_kg = abs(1000 * check.weighed_g / check.expected_g - 1) <= rules.weight_check_share
        if in_kg:
            raise WrongUse(
                f"{check.weighed_g:g} is the weight in kg; the scale's weight is told in g",
                f"write {1000 * check.weighed_g:.0f}, as the scale shows it in g",
            )
    return None if check is not None and not check.passed else solution_of(mixture).strength_g_per_ml


def cost_for(grams: float, price_per_kg: float, powder: Powder) -> float:
    """What `grams` of glucose cost from powder of a price per kg, in the price's own money."""
    return grams / powder.glucose_share * price_per_kg / 1000


def saving_percent(own_cost: float, shop_cost: float) -> int:
    """Whole percent saved against the shop, rounded down. Raises WrongUse for a shop price of zero or less."""
    if not shop_cost > 0:
        raise WrongUse("the shop's price must be above zero", "write what one bottle costs")
    return floor(100 * (1 - own_cost / shop_cost))
