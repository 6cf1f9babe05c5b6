"""MedicationAdministration and MedicationStatement: glucose swallowed, insulin given, and what else was taken."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any, Final

from gramrise.connectors.fhir import codes
from gramrise.connectors.fhir.effective import begun_at
from gramrise.connectors.fhir.elements import (
    Medication,
    MedicationAdministration,
    MedicationStatement,
    Quantity,
    Ratio,
)
from gramrise.connectors.fhir.quantities import counted, grams_by_strength, in_grams, insulin_units
from gramrise.connectors.fhir.shapes import modelled
from gramrise.connectors.standards import Fact, Held, Hold, Kind, PassOver
from gramrise.domain.units import GLUCOSE_PER_MONOHYDRATE

_NOT_TAKEN: Final = frozenset({"not-done", "not-taken", "intended", "active"})
_MEASURED_WORDS: Final = ("gluc", "gluk", "dextro", "insulin")
_ALL_GLUCOSE: Final = frozenset({codes.GLUCOSE, codes.ANHYDROUS, codes.MONOHYDRATE})
# Our choice: what runs longer than this is given evenly, as a pump's basal insulin; a bolus takes minutes.
LONGEST_BOLUS: Final = timedelta(minutes=1)

Taken = MedicationAdministration | MedicationStatement


def read_medication(
    raw: dict[str, Any], medications: Mapping[str, dict[str, Any]], flags: list[str]
) -> tuple[list[Fact], bool]:
    """What the record states, and whether it is withdrawn. Raises Hold, PassOver.

    medications  resources by what refers to them, '#id' of those contained in the record included
    """
    record: Taken = (
        modelled(MedicationAdministration, raw)
        if raw.get("resourceType") == "MedicationAdministration"
        else modelled(MedicationStatement, raw)
    )
    if record.status == "entered-in-error":
        return [], True
    medication = _medication(record, raw, medications)
    uses, words = _uses(record, medication), _words(record, medication)
    if not uses:
        return [_unknown(record, words)], False
    if record.status in _NOT_TAKEN:
        raise PassOver(f"a medication that was not taken ({record.status})")
    if record.status != "completed":
        raise Hold("dose_not_sure", "status", record.status)
    if uses <= _ALL_GLUCOSE:
        return [_glucose(record, medication, uses, words, flags)], False
    if len(uses) > 1:
        raise Hold("codes_contradict", "medication", ", ".join(sorted(uses)))
    return [_insulin(record, uses.pop(), flags)], False


def _medication(record: Taken, raw: dict[str, Any], medications: Mapping[str, dict[str, Any]]) -> Medication | None:
    """The medication that a reference names. Raises Hold where it is not at hand."""
    if record.medicationReference is None:
        return None
    name = record.medicationReference.reference or ""
    contained = raw.get("contained")
    inside = {f"#{one.get('id')}": one for one in contained if isinstance(one, dict)} if isinstance(
        contained, list) else {}  # fmt: skip
    found = inside.get(name) or medications.get(name)
    if found is None:
        raise Hold("medication_unknown", "medicationReference", name)
    return modelled(Medication, found)


def _uses(record: Taken, medication: Medication | None) -> set[str]:
    """What the codes of a medication mean; with several active ingredients, of all of them. Empty: not known."""
    concept = record.medicationCodeableConcept if medication is None else medication.code
    own = {codes.MEDICATIONS[key].use for key in (concept.keys if concept else ()) if key in codes.MEDICATIONS}
    if codes.LONG_INSULIN in own and own <= {codes.LONG_INSULIN, codes.INSULIN}:
        own = {codes.LONG_INSULIN}  # the more exact of its codes
    ingredients: list[set[str]] = []
    for one in medication.ingredient if medication is not None else ():
        if one.isActive is not False:
            keys = one.itemCodeableConcept.keys if one.itemCodeableConcept else []
            ingredients.append({codes.MEDICATIONS[key].use for key in keys if key in codes.MEDICATIONS})
    if any(not uses for uses in ingredients):
        return set()
    return own.union(*ingredients)


def _words(record: Taken, medication: Medication | None) -> str:
    concept = record.medicationCodeableConcept if medication is None else medication.code
    return (concept.text if concept is not None else None) or ""


def _unknown(record: Taken, words: str) -> Fact:
    """Something without a code: a note of the household. What sounds like glucose or insulin is held, not noted."""
    if any(word in words.lower() for word in _MEASURED_WORDS):
        raise Hold("medication_unknown", "medication", words)
    if record.medicationCodeableConcept is None or record.medicationCodeableConcept.coding or not words:
        raise PassOver(f"another medication ({words[:60] or 'by code'})")
    if record.status != "completed":
        raise PassOver(f"another medication ({words[:60]})")
    said = _said(record)
    return Fact(Kind.NOTE, begun_at(record)[0], text=f"{words}: {said}" if said else words)


def named_dose(raw: dict[str, Any], medications: Mapping[str, dict[str, Any]]) -> tuple[str, Fact | Held] | None:
    """(words, what was taken) of a medication whose codes say nothing here: a household may know it by its words.

    None where codes say what it is, it has no words, or was not taken.
    """
    flags: list[str] = []
    try:
        record: Taken = (
            modelled(MedicationAdministration, raw)
            if raw.get("resourceType") == "MedicationAdministration"
            else modelled(MedicationStatement, raw)
        )
        medication = _medication(record, raw, medications)
    except Hold:
        return None
    words = _words(record, medication)
    if not words or _uses(record, medication) or record.status in {*_NOT_TAKEN, "entered-in-error"}:
        return None
    try:
        if record.status != "completed":
            raise Hold("dose_not_sure", "status", record.status)
        start, end = begun_at(record)
        grams = in_grams(_dose(record), flags)
        amount, unit = (grams, "g") if grams is not None else counted(_dose(record), flags)
    except Hold as hold:
        return words, hold.held
    until = None if end is None else end.utc
    return words, Fact(Kind.DOSE, start, until, amount=amount, unit=unit, text=words)


def _said(record: Taken) -> str:
    if isinstance(record, MedicationAdministration):
        return (record.dosage.text if record.dosage else None) or ""
    return "; ".join(one.text for one in record.dosage if one.text)


def _dose(record: Taken) -> Quantity:
    """The amount taken. Raises Hold where none or several are stated."""
    if isinstance(record, MedicationAdministration):
        found = [record.dosage.dose] if record.dosage and record.dosage.dose else []
    else:
        found = [rate.doseQuantity for one in record.dosage for rate in one.doseAndRate if rate.doseQuantity]
    if len(found) != 1:
        raise Hold("no_amount", "dosage", f"{len(found)} amounts" if found else "")
    return found[0]


def _glucose(record: Taken, medication: Medication | None, uses: set[str], words: str, flags: list[str]) -> Fact:
    """Glucose swallowed: grams as stated or by strength; pieces and mL where no strength is stated."""
    start, end = begun_at(record)
    dose = _dose(record)
    strength = _strength(medication)
    grams = in_grams(dose, flags)
    amount, unit = (grams, "g") if grams is not None else counted(dose, flags)
    by_strength = grams_by_strength(amount, unit, strength, flags) if strength is not None else None
    number = amount
    if by_strength is not None:
        amount, stated = by_strength, "g"
    else:
        stated = unit
    if codes.MONOHYDRATE in uses and stated == "g":
        amount *= GLUCOSE_PER_MONOHYDRATE
    if not amount > 0:
        raise Hold("amount_not_positive", "dose", f"{amount:g}")
    until = None if end is None else end.utc
    return Fact(Kind.DOSE, start, until, amount=amount, unit=stated, counted_in=unit, counted=number, text=words)


def _strength(medication: Medication | None) -> Ratio | None:
    active = [one for one in medication.ingredient if one.isActive is not False] if medication else []
    return active[0].strength if len(active) == 1 else None


def _insulin(record: Taken, use: str, flags: list[str]) -> Fact:
    start, end = begun_at(record)
    units = insulin_units(_dose(record), flags)
    if units < 0:
        raise Hold("amount_not_positive", "dose", f"{units:g}")
    until = None if end is None else end.utc
    if use == codes.LONG_INSULIN:
        return Fact(Kind.LONG_INSULIN, start, until, amount=units)
    rated = isinstance(record, MedicationAdministration) and record.dosage is not None and (
        record.dosage.rateQuantity is not None or record.dosage.rateRatio is not None)  # fmt: skip
    if rated or (until is not None and until - start.utc > LONGEST_BOLUS):
        return Fact(Kind.BASAL, start, until, amount=units)
    return Fact(Kind.INSULIN, start, amount=units)
