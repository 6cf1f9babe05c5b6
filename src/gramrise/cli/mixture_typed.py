"""What people type about a batch: strength, powder, water; read as a recipe or as what was mixed, or refused."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from gramrise.domain.mixtures import Mixture, Powder, WaterBy
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import AmountUnit

if TYPE_CHECKING:
    from gramrise.supplies import Recipe, SuppliesSettings


# As a German bag says it.
_ON_A_BAG: Final = {"monohydrat": Powder.MONOHYDRATE, "wasserfrei": Powder.ANHYDROUS}


@dataclass(frozen=True, slots=True)
class Typed:
    """The options of `gramrise mix`; None where one was left out."""

    powder: str | None = None
    strength: str | None = None
    volume_ml: float | None = None
    powder_g: float | None = None
    made_up_to_ml: float | None = None
    water_ml: float | None = None
    weighed_g: float | None = None
    citric_acid_mg: float | None = None
    ascorbic_acid_mg: float | None = None


def recipe_typed(typed: Typed, rules: "SuppliesSettings") -> "Recipe":
    """The recipe wanted, or that of what was weighed in. Raises WrongUse where powder or water is not told."""
    from gramrise.supplies import Recipe, recipe_for, refuse_too_strong

    powder = powder_typed(typed.powder)
    if typed.powder_g is None:
        if typed.strength is None or typed.volume_ml is None:
            raise WrongUse(
                "strength or volume is missing",
                "add --strength '1.25 g per 5 mL' --volume 750; or say what was weighed in: --powder-g 188 "
                "--made-up-to 750",
            )
        if typed.made_up_to_ml is not None or typed.water_ml is not None:
            raise WrongUse("--made-up-to and --water go with --powder-g", "say how much powder was weighed in")
        planned = recipe_for(strength_typed(typed.strength), typed.volume_ml, powder, rules)
        return replace(planned, mixture=_with_extras(planned.mixture, typed))
    if typed.strength is not None or typed.volume_ml is not None:
        raise WrongUse("--powder-g says what was mixed, --strength what is wanted", "give one of the two")
    mixture = _with_extras(_mixed(powder, typed.powder_g, typed), typed)
    recipe = Recipe.of(mixture)
    refuse_too_strong(recipe.solution.strength_g_per_ml, rules)
    return recipe


def powder_typed(text: str | None) -> Powder:
    """The powder's form. There is no default: a wrong guess would make every amount 9 % too weak."""
    told = (text or "").strip().lower()
    try:
        return _ON_A_BAG[told] if told in _ON_A_BAG else Powder(told)
    except ValueError as problem:
        raise WrongUse(
            "which powder?" if text is None else f"'{text}' is no form of the powder",
            "look at the bag: --powder monohydrate (the usual dextrose powder) or --powder anhydrous",
            "which_powder",
        ) from problem


def strength_typed(text: str) -> float:
    """Grams per mL of "1.25 g per 5 mL", or of a bare number of grams per mL. Raises WrongUse."""
    from gramrise.supplies import label_strength

    try:
        return float(text.replace(",", "."))
    except ValueError:
        stated = label_strength(text)
    if stated.unit is not AmountUnit.ML:
        raise WrongUse(f"'{text}' is no strength of a liquid", "write it as 1.25 g per 5 mL")
    return stated.grams_per_unit


def _mixed(powder: Powder, powder_g: float, typed: Typed) -> Mixture:
    """What was weighed in. A line and an amount of water are different things, so exactly one is told."""
    if (typed.made_up_to_ml is None) == (typed.water_ml is None):
        raise WrongUse(
            "how was the water measured?",
            "--made-up-to 750 where it was filled up to a line, or --water 633 where so much water was poured on",
            "which_water",
        )
    if typed.made_up_to_ml is not None:
        return Mixture(powder, powder_g, WaterBy.MADE_UP_TO, typed.made_up_to_ml)
    assert typed.water_ml is not None  # exactly one of the two, see above
    return Mixture(powder, powder_g, WaterBy.ADDED_TO, typed.water_ml)


def _with_extras(mixture: Mixture, typed: Typed) -> Mixture:
    return replace(
        mixture,
        weighed_g=typed.weighed_g,
        citric_acid_mg=typed.citric_acid_mg or 0.0,
        ascorbic_acid_mg=typed.ascorbic_acid_mg or 0.0,
    )
