"""What `gramrise mix` says: the recipe in plain sentences, and what the scale says of it."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from gramrise.domain.mixtures import Powder, WaterBy

if TYPE_CHECKING:
    from gramrise.domain.mixtures import Mixture
    from gramrise.report import ScreenWords
    from gramrise.supplies import Recipe, SuppliesSettings, WeightCheck


def recipe_lines(recipe: "Recipe", rules: "SuppliesSettings") -> Iterator[str]:
    """The recipe: powder, water both ways, the strength, the weight, the days."""
    mixture, made = recipe.mixture, recipe.solution
    yield (
        f"{mixture.powder_g:g} g of {mixture.powder} powder hold {mixture.glucose_g:.1f} g of glucose"
        + (" (1 g of monohydrate is 0.909 g)." if mixture.powder is Powder.MONOHYDRATE else ".")
    )
    if mixture.water_by is WaterBy.MADE_UP_TO:
        yield (
            f"Fill up with water to the {mixture.ml:g} mL line. Without a line: pour {recipe.water_added_ml:.0f} mL of "
            "water onto the powder. (That is less than the line says: the glucose takes up room, 0.63 mL a gram.)"
        )
    else:
        yield f"Pour {mixture.ml:g} mL of water onto it; together that is {made.volume_ml:.0f} mL."
    yield (
        f"Strength: {5 * made.strength_g_per_ml:.2f} g of glucose in 5 mL, "
        f"{10 * made.strength_g_per_ml:.2f} g in 10 mL."
    )
    if mixture.powder is Powder.ANHYDROUS and mixture.water_by is WaterBy.MADE_UP_TO:
        weaker = 5 * made.strength_g_per_ml * Powder.MONOHYDRATE.glucose_share
        yield f"From the same grams of monohydrate it would be {weaker:.2f} g in 5 mL: look at the bag."
    share = rules.weight_check_share
    yield (
        f"On the scale it must weigh {made.total_g:.0f} g without the bottle ({made.total_g * (1 - share):.0f} to "
        f"{made.total_g * (1 + share):.0f}). That is by tables of density at 20 C; rules handed down differ by about "
        "1 %. The scale finds a wrong weight or line; it cannot tell the powder's form."
    )
    for name, mg in (("citric acid", mixture.citric_acid_mg), ("ascorbic acid", mixture.ascorbic_acid_mg)):
        if mg > 0:
            yield f"{mg:g} mg of {name}: {10 * mg / made.volume_ml:.1f} mg in 10 mL. {ACID_HARMS[name]}"
    yield (
        f"Use it within {rules.days_kept_cold} days, kept cold (our choice, on the careful side); out of the cold "
        f"{rules.hours_out_of_the_cold} hours; away once drunk from. Heat and acid do not lengthen it."
    )


ACID_HARMS = {
    "citric acid": "Acid at night harms teeth: rinse with water.",
    "ascorbic acid": "It can make some sensors read too high; never together with benzoate.",
}


def weight_sentence(check: "WeightCheck") -> str:
    """What the scale says of a finished mixture."""
    told = f"The mixture weighs {check.weighed_g:.0f} g and should weigh {check.expected_g:.0f} g"
    if check.passed:
        return told + ": scale and line agree."
    return (
        told + f", {100 * check.share_off:+.0f} %. Powder or water was measured wrongly, so nobody knows the strength: "
        "pour it away and mix anew. Grams taken from it stay unknown."
    )


def batch_words(mixture: "Mixture", words: "ScreenWords") -> str:
    """'188 g anhydrous, made up to 750 mL'."""
    water = "mix.made_up_to" if mixture.water_by is WaterBy.MADE_UP_TO else "mix.and_water"
    powder = words.say(f"powder.{mixture.powder}")
    return f"{words.amount(mixture.powder_g)} g {powder}, {words.say(water, ml=words.amount(mixture.ml))}"
