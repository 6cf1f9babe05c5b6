"""Floor 2: sources and their labels, mixing, what is on hand. Pure functions. Other rooms import these names."""

from gramrise.supplies.forms import SHELF, VOMITING, ShelfEntry
from gramrise.supplies.labels import LabelStrength, household_spoons_g, label_strength
from gramrise.supplies.mixing import (
    Recipe,
    Solution,
    WeightCheck,
    cost_for,
    recipe_for,
    refuse_too_strong,
    saving_percent,
    solution_of,
    trusted_strength,
    weight_check,
)
from gramrise.supplies.settings import SuppliesSettings, supplies_settings

__all__ = [
    "SHELF",
    "VOMITING",
    "LabelStrength",
    "Recipe",
    "ShelfEntry",
    "Solution",
    "SuppliesSettings",
    "WeightCheck",
    "cost_for",
    "household_spoons_g",
    "label_strength",
    "recipe_for",
    "refuse_too_strong",
    "saving_percent",
    "solution_of",
    "supplies_settings",
    "trusted_strength",
    "weight_check",
]
