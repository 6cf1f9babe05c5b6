"""Bodies of data points: blood glucose 1.0 to 4.0, body weight 1.0 to 3.0, one dose of a medication."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from gramrise.connectors.open_mhealth.shapes import UnitValue, modelled
from gramrise.connectors.open_mhealth.time_frames import FROM_INTERVAL_END, read_time_frame
from gramrise.connectors.standards import Fact, Hold, Kind, PassOver
from gramrise.domain.units import GLUCOSE_PER_MONOHYDRATE, KG_PER_LB, MG_DL_PER_MMOL_L

_GLUCOSE_UNITS: Final = {"mg/dL": 1.0, "mmol/L": MG_DL_PER_MMOL_L}
_OTHER_SPELLINGS: Final = {"mg/dl": 1.0, "mmol/l": MG_DL_PER_MMOL_L}  # outside the schema, seen in published examples
_SENSOR: Final = "interstitial fluid"
_BLOOD: Final = frozenset({"whole blood", "plasma", "serum", "capillary blood"})
_NEITHER: Final = frozenset({"tears", "breath", "saliva", "sweat", "urine", "lacrimal fluid"})
_MEALS: Final = frozenset({"fasting", "not fasting", "before meal", "after meal", "before breakfast",
                           "after breakfast", "before lunch", "after lunch", "before dinner", "after dinner",
                           "2 hours postprandial", "not related to meals", "with meal", "with food"})  # fmt: skip
_SLEEP: Final = frozenset({"before sleeping", "during sleep", "on waking"})
_STATISTICS: Final = frozenset(
    {
        "1st quintile",
        "20th percentile",
        "2nd quintile",
        "3rd quintile",
        "4th quintile",
        "80th percentile",
        "average",
        "count",
        "lower quartile",
        "maximum",
        "median",
        "minimum",
        "quartile deviation",
        "standard deviation",
        "sum",
        "upper quartile",
        "variance",
    }
)
# Masses of the schema, kg. 'gr' is the grain, 64.79891 mg, not the gram. Ton is the short ton.
_MASSES_KG: Final = {"fg": 1e-18, "pg": 1e-15, "ng": 1e-12, "ug": 1e-9, "mg": 1e-6, "g": 1e-3, "kg": 1.0,
                     "Metric Ton": 1e3, "gr": 64.79891e-6, "oz": KG_PER_LB / 16, "lb": KG_PER_LB,
                     "Ton": 2000 * KG_PER_LB}  # fmt: skip
_GRAMS: Final = {"g": 1.0, "mg": 1e-3}
_PIECES: Final = frozenset({"tablet", "lozenge", "pastille", "pill", "gum", "wafer"})
_INSULIN_UNITS: Final = frozenset({"IU", "U", "unt", "USP'U"})
_RAPID: Final = frozenset({"insulin", "insulin lispro", "insulin aspart", "insulin glulisine", "insulin regular",
                           "regular insulin", "insulin human"})  # fmt: skip
_LONG: Final = ("glargine", "detemir", "degludec", "isophane", "nph", "icodec")
_GLUCOSE: Final = {"glucose": 1.0, "dextrose": 1.0, "anhydrous glucose": 1.0, "anhydrous dextrose": 1.0,
                   "glucose monohydrate": GLUCOSE_PER_MONOHYDRATE,
                   "dextrose monohydrate": GLUCOSE_PER_MONOHYDRATE}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Body:
    """How one schema is read: its versions, and the function."""

    versions: frozenset[str]
    read: Callable[[dict[str, Any], list[str]], Fact]


def read_body(name: str, version: str, body: object, flags: list[str]) -> Fact:
    """What a body states. Raises Hold, PassOver (another schema; a statistic over many measurements)."""
    known = BODIES.get(name)
    if known is None:
        raise PassOver(f"a record of another schema ({name[:60]})")
    if version not in known.versions:
        raise Hold("version_unknown", "header.schema_id.version", f"{name} {version}")
    if not isinstance(body, dict):
        raise Hold("not_the_standard", "body")
    return known.read(body, flags)


def _glucose(body: dict[str, Any], flags: list[str]) -> Fact:
    value = _measure(body, "blood_glucose")
    scale = _GLUCOSE_UNITS.get(value.unit)
    if scale is None:
        scale = _OTHER_SPELLINGS.get(value.unit)
        flags.append("unit_spelling")
    if scale is None:
        raise Hold("unit_unknown", "blood_glucose.unit", value.unit)
    kind = _specimen(body, flags)
    for name, known in (("temporal_relationship_to_meal", _MEALS), ("temporal_relationship_to_sleep", _SLEEP)):
        if name in body and str(body[name]) not in known:
            flags.append(f"{name}_unknown")  # only a label: the reading stands
    frame = read_time_frame(body)
    _check_single(body)
    if frame.interval:
        flags.append(FROM_INTERVAL_END)
    return Fact(kind, frame.end, amount=_finite(float(value.value) * scale, "blood_glucose.value"))


def _specimen(body: dict[str, Any], flags: list[str]) -> Kind:
    specimen = body.get("specimen_source", body.get("blood_specimen_type"))
    if specimen is None:
        flags.append("specimen_unknown")
        return Kind.GLUCOSE
    if specimen == _SENSOR:
        return Kind.READING
    if isinstance(specimen, str) and specimen in _BLOOD:
        return Kind.FINGER
    if isinstance(specimen, str) and specimen in _NEITHER:
        raise PassOver(f"glucose in {specimen}, neither of a sensor nor of blood")
    raise Hold("specimen_unknown", "specimen_source", specimen)


def _weight(body: dict[str, Any], flags: list[str]) -> Fact:
    value = _measure(body, "body_weight")
    if value.unit not in _MASSES_KG:
        raise Hold("unit_unknown", "body_weight.unit", value.unit)
    frame = read_time_frame(body)
    _check_single(body)
    if frame.interval:
        flags.append(FROM_INTERVAL_END)
    kg = _finite(float(value.value) * _MASSES_KG[value.unit], "body_weight.value")
    return Fact(Kind.WEIGHT, frame.end, amount=kg)


def _measure(body: dict[str, Any], name: str) -> UnitValue:
    if name not in body:
        raise Hold("body_not_of_its_schema", "body", f"no {name}")
    return modelled(UnitValue, body[name], name)


def _check_single(body: dict[str, Any]) -> None:
    """A statistic over many measurements is none of them."""
    if "descriptive_statistic" not in body:
        return
    name = body["descriptive_statistic"]
    if not isinstance(name, str) or name not in _STATISTICS:
        raise Hold("not_the_standard", "descriptive_statistic", name)
    raise PassOver(f"a statistic over a time ({name}), no measurement")


def _dose(body: dict[str, Any], _flags: list[str]) -> Fact:
    """One dose taken: glucose in grams or pieces, insulin in units."""
    medication = body.get("medication")
    if not isinstance(medication, dict) or not isinstance(medication.get("generic_name"), str):
        raise Hold("body_not_of_its_schema", "body.medication")
    name = " ".join(medication["generic_name"].lower().split())
    if name not in _GLUCOSE and "insulin" not in name and not any(word in name for word in _LONG):
        if "gluc" in name or "dextro" in name:
            raise Hold("medication_unknown", "medication.generic_name", name)
        raise PassOver(f"another medication ({name[:60]})")
    dose = modelled(UnitValue, body.get("dose"), "dose")
    frame = read_time_frame(body)
    amount = _finite(float(dose.value), "dose.value")
    if not amount > 0:
        raise Hold("amount_not_positive", "dose.value", dose.value)
    until = frame.end.utc if frame.interval else None
    if name in _GLUCOSE:
        grams, unit = _grams(amount, dose.unit, medication, name)
        counted = "piece" if dose.unit in _PIECES else unit
        return Fact(Kind.DOSE, frame.start, until, amount=grams, unit=unit, counted_in=counted, text=name)
    if dose.unit not in _INSULIN_UNITS:
        raise Hold("unit_unknown", "dose.unit", dose.unit)
    if any(word in name for word in _LONG):
        return Fact(Kind.LONG_INSULIN, frame.start, until, amount=amount)
    if name not in _RAPID:
        raise Hold("medication_unknown", "medication.generic_name", name)
    return Fact(Kind.BASAL if frame.interval else Kind.INSULIN, frame.start, until, amount=amount)


def _grams(amount: float, unit: str, medication: dict[str, Any], name: str) -> tuple[float, str]:
    if unit in _GRAMS:
        return amount * _GRAMS[unit] * _GLUCOSE[name], "g"
    if unit == "mL":
        return amount, "mL"
    if unit not in _PIECES:
        raise Hold("unit_unknown", "dose.unit", unit)
    strengths = medication.get("strength")
    if not isinstance(strengths, list) or len(strengths) != 1:
        return amount, "piece"
    strength = modelled(UnitValue, strengths[0], "medication.strength")
    if strength.unit not in _GRAMS:
        return amount, "piece"
    each = _finite(float(strength.value), "medication.strength")
    if not each > 0:
        raise Hold("amount_not_positive", "medication.strength", strength.value)
    return amount * each * _GRAMS[strength.unit] * _GLUCOSE[name], "g"


def _finite(value: float, column: str) -> float:
    if not math.isfinite(value):
        raise Hold("amount_implausible", column, value)
    return value


BODIES: Final = {
    "blood-glucose": Body(frozenset({"1.0", "2.0", "3.0", "4.0"}), _glucose),
    "body-weight": Body(frozenset({"1.0", "2.0", "3.0"}), _weight),
    "single-medication-dose-taken": Body(frozenset({"1.0"}), _dose),
}
