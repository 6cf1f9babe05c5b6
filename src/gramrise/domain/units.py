"""Units of glucose, weight and volume, each conversion with its source."""

from enum import StrEnum
from typing import Final

# Molar mass of glucose, C6H12O6: 180.156 g/mol (IUPAC standard atomic weights), a tenth of it per dL.
MG_DL_PER_MMOL_L: Final = 18.0156
# International avoirdupois pound, exact by definition (1959).
KG_PER_LB: Final = 0.45359237
# Glucose in a gram of dextrose monohydrate: 180.156 / 198.171 (USP dextrose monograph molar masses).
GLUCOSE_PER_MONOHYDRATE: Final = 180.156 / 198.171


class GlucoseUnit(StrEnum):
    """The two units in which people read glucose; a person sees one of them, never both."""

    MG_DL = "mg/dL"
    MMOL_L = "mmol/L"


def to_mg_dl(value: float, unit: GlucoseUnit) -> float:
    """A glucose value in mg/dL. `value` is in `unit`."""
    return value if unit is GlucoseUnit.MG_DL else value * MG_DL_PER_MMOL_L


def from_mg_dl(value_mg_dl: float, unit: GlucoseUnit) -> float:
    """A glucose value in the unit a person reads, from mg/dL."""
    return value_mg_dl if unit is GlucoseUnit.MG_DL else value_mg_dl / MG_DL_PER_MMOL_L


def pounds_to_kg(pounds: float) -> float:
    """Body weight in kg from pounds."""
    return pounds * KG_PER_LB
