"""What `gramrise mix` says in the person's language: the recipe in plain sentences, and what the scale says of it."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from gramrise.domain.mixtures import Powder, WaterBy

if TYPE_CHECKING:
    from gramrise.domain.mixtures import Mixture
    from gramrise.report import ScreenWords
    from gramrise.supplies import Recipe, SuppliesSettings, WeightCheck


def recipe_lines(recipe: "Recipe", rules: "SuppliesSettings", words: "ScreenWords") -> Iterator[str]:
    """The recipe: powder, water both ways, the strength, the weight, the days."""
    mixture, made = recipe.mixture, recipe.solution
    yield words.say(
        f"mix.holds_{mixture.powder}", powder=words.amount(mixture.powder_g), glucose=words.number(mixture.glucose_g, 1)
    )
    if mixture.water_by is WaterBy.MADE_UP_TO:
        yield words.say("mix.fill_up", ml=words.amount(mixture.ml), water=words.number(recipe.water_added_ml))
    else:
        yield words.say("mix.pour", ml=words.amount(mixture.ml), volume=words.number(made.volume_ml))
    five, ten = (words.number(ml * made.strength_g_per_ml, 2) for ml in (5, 10))
    yield words.say("mix.strength_is", five=five, ten=ten)
    if mixture.powder is Powder.ANHYDROUS and mixture.water_by is WaterBy.MADE_UP_TO:
        weaker = 5 * made.strength_g_per_ml * Powder.MONOHYDRATE.glucose_share
        yield words.say("mix.weaker", five=words.number(weaker, 2))
    low, high = (made.total_g * (1 + sign * rules.weight_check_share) for sign in (-1, 1))
    yield words.say(
        "mix.on_the_scale", grams=words.number(made.total_g), low=words.number(low), high=words.number(high)
    )
    for name, mg in (("citric_acid", mixture.citric_acid_mg), ("ascorbic_acid", mixture.ascorbic_acid_mg)):
        if mg > 0:
            yield words.say(f"mix.{name}", mg=words.amount(mg), per=words.number(10 * mg / made.volume_ml, 1))
    yield words.say("mix.keep", days=rules.days_kept_cold, hours=rules.hours_out_of_the_cold)


def weight_sentence(check: "WeightCheck", words: "ScreenWords") -> str:
    """What the scale says of a finished mixture."""
    told = {"weighed": words.number(check.weighed_g), "expected": words.number(check.expected_g)}
    if check.passed:
        return words.say("mix.scale_agrees", **told)
    more = words.number(abs(100 * check.share_off))
    return words.say("mix.scale_more" if check.share_off > 0 else "mix.scale_less", off=more, **told)


def batch_words(mixture: "Mixture", words: "ScreenWords") -> str:
    """'188 g anhydrous, made up to 750 mL'."""
    water = "mix.made_up_to" if mixture.water_by is WaterBy.MADE_UP_TO else "mix.and_water"
    powder = words.say(f"powder.{mixture.powder}")
    return f"{words.amount(mixture.powder_g)} g {powder}, {words.say(water, ml=words.amount(mixture.ml))}"
