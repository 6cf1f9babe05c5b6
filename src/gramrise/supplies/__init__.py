"""Floor 2: sources and their labels, mixing, what is on hand. Pure functions. Other rooms import these names."""

from gramrise.supplies.count_tables import CountTable, is_count_table, read_count_table
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
from gramrise.supplies.stock import StockLine, StockState, past_its_days, stock_of, unnamed_grams

__all__ = [
    "SHELF",
    "VOMITING",
    "CountTable",
    "LabelStrength",
    "Recipe",
    "ShelfEntry",
    "Solution",
    "StockLine",
    "StockState",
    "SuppliesSettings",
    "WeightCheck",
    "cost_for",
    "household_spoons_g",
    "is_count_table",
    "label_strength",
    "past_its_days",
    "read_count_table",
    "recipe_for",
    "refuse_too_strong",
    "saving_percent",
    "solution_of",
    "stock_of",
    "supplies_settings",
    "trusted_strength",
    "unnamed_grams",
    "weight_check",
]
