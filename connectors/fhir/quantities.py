"""FHIR quantities to the units of the house. A code says the unit; the unit text is for people, and the last way."""

import math
from typing import Final

from gramrise.connectors.fhir.codes import UCUM
from gramrise.connectors.fhir.elements import Quantity, Ratio
from gramrise.connectors.standards import Hold
from gramrise.domain.units import KG_PER_LB, MG_DL_PER_MMOL_L
from gramrise.domain.words import Range

# Both spellings are valid UCUM: l and L are litre alike.
GLUCOSE_UNITS: Final = {"mg/dL": "mg/dL", "mg/dl": "mg/dL", "mmol/L": "mmol/L", "mmol/l": "mmol/L"}
MASSES_G: Final = {"g": 1.0, "mg": 1e-3, "kg": 1e3}
VOLUMES_ML: Final = {"mL": 1.0, "ml": 1.0, "L": 1e3, "l": 1e3, "dL": 100.0, "dl": 100.0, "cL": 10.0, "cl": 10.0}
PIECES: Final = frozenset({"{tablet}", "{tbl}", "{piece}", "1", "tablet", "tablets", "piece", "pieces", "{Tablet}"})
# [iU] and [IU] are valid UCUM; the others stand for insulin units in published data, and for insulin only.
INSULIN_UNITS: Final = frozenset(
    {"[iU]", "[IU]", "U", "{unit}", "[USP'U]", "IU", "unit", "units", "iU", "Unit", "Units"}
)
WEIGHT_UNITS: Final = {"kg": 1.0, "[lb_av]": KG_PER_LB, "g": 1e-3}
# Our choice: no sensor's or meter's lower end lies above, no upper end below these, mg/dL.
MOST_LOWER_BOUND: Final = 100.0
LEAST_UPPER_BOUND: Final = 200.0


def unit_of(quantity: Quantity, flags: list[str]) -> str:
    """The unit by its UCUM code; where it has none, its unit text. Raises Hold where it has neither."""
    if quantity.code is not None:
        if quantity.system != UCUM:
            raise Hold("unit_unknown", "system", quantity.system)
        shown, meant = (GLUCOSE_UNITS.get(one or "") for one in (quantity.unit, quantity.code))
        if shown and meant and shown != meant:  # people were shown the number in the other unit of glucose
            raise Hold("unit_code_mismatch", "unit", quantity.unit)
        return quantity.code
    if quantity.unit is None:
        raise Hold("no_unit", "unit")
    flags.append("unit_from_text")
    return quantity.unit


def number_of(quantity: Quantity, column: str) -> float:
    """The value as a float. Raises Hold for a bound, and where there is no value."""
    if quantity.comparator is not None:
        raise Hold("comparator_here", column, quantity.comparator)
    if quantity.value is None:
        raise Hold("no_amount", column)
    return finite(float(quantity.value), column)


def finite(value: float, column: str) -> float:
    if not math.isfinite(value):
        raise Hold("amount_implausible", column, value)
    return value


def mg_dl_per_unit(unit: str) -> float:
    """mg/dL in one of a glucose unit. Raises Hold for any other unit."""
    if unit not in GLUCOSE_UNITS:
        raise Hold("unit_unknown", "valueQuantity", unit)
    return 1.0 if GLUCOSE_UNITS[unit] == "mg/dL" else MG_DL_PER_MMOL_L


def checked_bound(value_mg_dl: float, side: Range) -> None:
    """Raises Hold for a limit that no sensor or meter has."""
    if (side is Range.BELOW and value_mg_dl > MOST_LOWER_BOUND) or (
        side is Range.ABOVE and value_mg_dl < LEAST_UPPER_BOUND
    ):
        raise Hold("bound_implausible", "value", f"{value_mg_dl:g}")


def weight_kg(quantity: Quantity, flags: list[str]) -> float:
    """Kilograms, from the three units that R4 allows for a body weight."""
    unit = unit_of(quantity, flags)
    if unit not in WEIGHT_UNITS:
        raise Hold("unit_unknown", "valueQuantity", unit)
    return number_of(quantity, "valueQuantity") * WEIGHT_UNITS[unit]


def in_grams(quantity: Quantity, flags: list[str]) -> float | None:
    """Grams, or None where its unit is no mass."""
    scale = MASSES_G.get(unit_of(quantity, flags))
    return None if scale is None else number_of(quantity, "dose") * scale


def insulin_units(quantity: Quantity, flags: list[str]) -> float:
    """Units of insulin, by any spelling seen for them."""
    unit = unit_of(quantity, flags)
    if unit not in INSULIN_UNITS:
        raise Hold("unit_unknown", "dose", unit)
    return number_of(quantity, "dose")


def counted(quantity: Quantity, flags: list[str]) -> tuple[float, str]:
    """An amount that is no mass: (number, 'piece' or 'mL'). Raises Hold for another unit."""
    unit = unit_of(quantity, flags)
    number = number_of(quantity, "dose")
    if unit in VOLUMES_ML:
        return number * VOLUMES_ML[unit], "mL"
    if unit in PIECES:
        return number, "piece"
    raise Hold("unit_unknown", "dose", unit)


def grams_by_strength(amount: float, unit: str, strength: Ratio, flags: list[str]) -> float | None:
    """Grams in an amount of 'piece', 'mL' or 'g' by a strength; None where the units do not go together."""
    if strength.numerator is None or strength.denominator is None:
        return None
    held = in_grams(strength.numerator, flags)
    below = strength.denominator
    grams = in_grams(below, flags)
    number, of_unit = (grams, "g") if grams is not None else counted(below, flags)
    if held is None or of_unit != unit or not number > 0:
        return None
    return finite(amount * held / number, "strength")
