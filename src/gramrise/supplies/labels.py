"""Strength from a label as it is printed: "12 g in 13 pieces", "15 g in 60 mL", "2.34 g per 5 mL"."""

import re
from dataclasses import dataclass
from typing import Final

from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import AmountUnit

# Spoon and glass of a label, mL. Source: 21 CFR 101.9(b)(5)(viii) for the spoon; the 30 mL glass is the measuring cup
# that comes with medicines (common practice, no source).
LABEL_TEASPOON_ML: Final = 5.0
MEASURING_GLASS_ML: Final = 30.0
# What spoons from a kitchen drawer hold, mL (common practice, no source): too far apart to measure glucose with.
HOUSEHOLD_TEASPOON_ML: Final = (2.5, 7.0)

_MEASURE: Final = r"(?P<number>\d+(?:[.,]\d+)?)?\s*(?P<unit>[a-zäöü]+)"
_LABEL: Final = re.compile(
    rf"^\s*(?P<grams>\d+(?:[.,]\d+)?)\s*g\s*(?:in|per|pro|je|a|an|ein|einem|einer|/|=)\s*(?:a\s+|one\s+)?{_MEASURE}"
    r"(?:\s+(?P<vessel>glass|cup|spoon|teaspoon|glas|becher|löffel|teelöffel|bottle|shot|flasche|fläschchen))?\s*$",
    re.IGNORECASE,
)
# Labels name the thing before or behind its grams ('15 g of glucose in 60 mL'), or the piece first.
_GLUCOSE: Final = re.compile(
    r"(?<![\w-])(?:of|d-glucose|glucose|glukose|dextrose|traubenzucker):?(?![\w-])", re.IGNORECASE
)
_PIECE_FIRST: Final = re.compile(
    r"^\s*(?:per|pro|je|one|1)\s+(?P<unit>[a-zäöü]+)\s*[:=]?\s*(?P<grams>\d+(?:[.,]\d+)?\s*g)\s*$", re.I
)
_ML: Final = frozenset({"ml", "milliliter", "millilitre"})
_PIECES: Final = frozenset({
    "piece", "pieces", "tablet", "tablets", "candy", "candies", "stück", "stueck", "tablette", "tabletten", "bonbon",
    "bonbons", "tube", "tubes", "tuben", "sachet", "sachets", "beutel", "gel", "gels",
})  # fmt: skip
_SPOONS: Final = frozenset({"spoon", "spoons", "teaspoon", "teaspoons", "tsp", "löffel", "teelöffel", "tl"})
_GLASSES: Final = frozenset({"glass", "glasses", "cup", "cups", "glas", "gläser", "becher"})


@dataclass(frozen=True, slots=True)
class LabelStrength:
    """Grams as printed in one piece or one mL."""

    grams_per_unit: float
    unit: AmountUnit


def label_strength(text: str) -> LabelStrength:
    """The strength that a label states.

    raises WrongUse for a text that states none, and for a spoon or glass of unknown size: which one it is must be said
    """
    plain = _PIECE_FIRST.sub(r"\g<grams> per \g<unit>", " ".join(_GLUCOSE.sub(" ", text).split()))
    found = _LABEL.match(plain)
    if found is None:
        raise WrongUse(
            f"'{text}' states no strength", "copy the label as '12 g in 13 pieces', '15 g in 60 mL', '2.34 g per 5 mL'"
        )
    grams, many = _number(found["grams"]), _number(found["number"] or "1")
    unit = found["unit"].lower()
    if not (grams > 0 and many > 0):
        raise WrongUse(f"'{text}' holds a zero", "look at the label again")
    if unit in _ML:
        return LabelStrength(grams / many, AmountUnit.ML)
    if unit in _PIECES:
        return LabelStrength(grams / many, AmountUnit.PIECE)
    if unit in _SPOONS | _GLASSES:
        raise _which(text, unit)
    raise WrongUse(f"'{found['unit']}' in '{text}' is no measure we know", "write pieces or mL")


def _which(text: str, unit: str) -> WrongUse:
    if unit in _SPOONS:
        low, high = HOUSEHOLD_TEASPOON_ML
        return WrongUse(
            f"which spoon is meant in '{text}'? A spoon from the drawer holds {low:g} to {high:g} mL, a measuring "
            f"spoon {LABEL_TEASPOON_ML:g} mL",
            f"measure with an oral syringe, and write 'per {LABEL_TEASPOON_ML:g} mL' where the label means that spoon",
            "which_spoon",
        )
    return WrongUse(
        f"which glass is meant in '{text}'? A measuring glass holds {MEASURING_GLASS_ML:g} mL, others hold more",
        f"write 'per {MEASURING_GLASS_ML:g} mL' where the small measuring glass is meant",
        "which_glass",
    )


def household_spoons_g(spoons: float, grams_per_ml: float) -> tuple[float, float]:
    """Least and most grams that so many spoons from the drawer held. Only to read old entries, never to measure."""
    low, high = HOUSEHOLD_TEASPOON_ML
    return spoons * low * grams_per_ml, spoons * high * grams_per_ml


def _number(text: str) -> float:
    return float(text.replace(",", "."))
