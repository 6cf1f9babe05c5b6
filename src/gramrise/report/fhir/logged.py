"""What was measured and given: a reading is an Observation, an amount of glucose a MedicationAdministration."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any, Final

import polars as pl

from gramrise.connectors.fhir import LOINC, SNOMED
from gramrise.domain.sources import AmountUnit, Form
from gramrise.report.fhir.elements import Resource, quantity
from gramrise.report.fhir.sender import Sender

# LOINC 99504-3: glucose in interstitial fluid, mass concentration, as the CGM guide of HL7 fixes it for a reading.
READING_CODE: Final = {"coding": [{"system": LOINC, "code": "99504-3"}], "text": "Sensor glucose"}
# SNOMED CT 67079006: glucose, the substance.
GLUCOSE: Final = {"system": SNOMED, "code": "67079006"}
COMPARATORS: Final = {"below": "<", "above": ">"}
# A milligram, as amounts are read.
DIGITS: Final = 3
# UCUM has no piece: an annotation in braces counts.
UCUM_OF: Final = {AmountUnit.PIECE: "{piece}", AmountUnit.ML: "mL", AmountUnit.GRAM: "g"}

Named = tuple[str, Resource]


def reading_name(sender: Sender, at_utc: datetime) -> str:
    return sender.named("reading", at_utc)


def dose_name(sender: Sender, dose: dict[str, Any]) -> str:
    return sender.named("glucose given", dose["taken_at_utc"], dose["source"], dose["ordinal"])


def reading_records(readings: pl.DataFrame, sender: Sender) -> Iterator[Named]:
    """(name, Observation) of each reading; beyond the sensor's range it is a bound, never a plain number."""
    for row in readings.iter_rows(named=True):
        value = quantity(row["glucose_mg_dl"], "mg/dL", comparator=COMPARATORS.get(row["range"], ""))
        yield (
            reading_name(sender, row["at_utc"]),
            {
                "resourceType": "Observation",
                "status": "final",
                "code": READING_CODE,
                **sender.about,
                "effectiveDateTime": sender.when(row["at_utc"], row["offset_minutes"]),
                "valueQuantity": value,
            },
        )


def dose_records(doses: pl.DataFrame, sender: Sender) -> Iterator[Named]:
    """(name, MedicationAdministration) of each amount of glucose that was logged."""
    for row in doses.iter_rows(named=True):
        yield (
            dose_name(sender, row),
            {
                "resourceType": "MedicationAdministration",
                **_medication(row),
                **sender.about,
                "status": "completed",
                "effectiveDateTime": sender.when(row["taken_at_utc"]),
                **_dosage(row),
                "note": [{"text": " ".join(_notes(row))}],
            },
        )


def _medication(row: dict[str, Any]) -> dict[str, Any]:
    """The glucose by its name and, where it is counted, by its strength in anhydrous glucose."""
    form = "glucose" if row["form"] == Form.UNKNOWN else row["form"]
    concept = {"coding": [GLUCOSE], "text": row["source"] or form}
    unit, amount, grams = row["amount_unit"], row["amount"], row["grams"]
    if unit not in {AmountUnit.PIECE, AmountUnit.ML} or not amount or grams is None:
        return {"medicationCodeableConcept": concept}
    strength = {
        "numerator": quantity(round(grams, DIGITS), "g"),
        "denominator": quantity(amount, UCUM_OF[AmountUnit(unit)]),
    }
    ingredient = {"itemCodeableConcept": {"coding": [GLUCOSE], "text": "glucose"}, "strength": strength}
    medication = {"resourceType": "Medication", "id": "given", "code": concept, "ingredient": [ingredient]}
    return {"contained": [medication], "medicationReference": {"reference": "#given"}}


def _dosage(row: dict[str, Any]) -> dict[str, Any]:
    """The amount as it was counted, else in grams; none where nobody knows it."""
    unit, amount, grams = row["amount_unit"], row["amount"], row["grams"]
    if grams is None and (amount is None or not unit):
        return {}
    if unit in {AmountUnit.PIECE, AmountUnit.ML} and amount:
        dose = quantity(amount, UCUM_OF[AmountUnit(unit)], "piece" if unit == AmountUnit.PIECE else "mL")
    else:
        dose = quantity(round(grams if grams is not None else amount, DIGITS), "g")
    return {"dosage": {"route": {"text": "by mouth"}, "dose": dose}}


def _notes(row: dict[str, Any]) -> list[str]:
    grams = row["grams"]
    told = ["Amount not known." if grams is None else f"{round(grams, DIGITS):g} g of glucose (anhydrous) by mouth."]
    if row["may_be_weaker"]:
        told.append("Nobody has said what the printed grams are of: it may hold 9 % less.")
    if row["noticed"]:
        told.append(f"Noticed by: {row['noticed']}.")
    if row["remarks"]:
        told.append(f"In the log: {', '.join(row['remarks'])}.")
    return [*told, "Logged at home."]
