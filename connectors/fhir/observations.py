"""One FHIR Observation: glucose of a sensor or of blood, body weight, carbohydrate eaten, exercise."""

from datetime import timedelta
from typing import Any, Final

from gramrise.connectors.fhir import codes
from gramrise.connectors.fhir.codes import Code
from gramrise.connectors.fhir.effective import begun_at, measured_at, weighed_at
from gramrise.connectors.fhir.elements import Observation, Quantity, Valued
from gramrise.connectors.fhir.quantities import (
    checked_bound,
    finite,
    in_grams,
    mg_dl_per_unit,
    number_of,
    unit_of,
    weight_kg,
)
from gramrise.connectors.fhir.sampled import sampled_facts
from gramrise.connectors.fhir.shapes import modelled
from gramrise.connectors.standards import Fact, Hold, Kind, PassOver
from gramrise.domain.words import Range

WITHDRAWN: Final = "entered-in-error"
_NOT_YET: Final = {"registered": "an announced value that is not there yet", "cancelled": "a cancelled measurement"}
_FLAGGED: Final = {"preliminary": "preliminary", "unknown": "status_unknown"}
_INFINITY: Final = {"negative-infinity": Range.BELOW, "positive-infinity": Range.ABOVE}
_IN_TEXT: Final = frozenset({"as-text", "astext"})
_GLUCOSE_WORDS: Final = ("gluc", "gluk", "glyk", "glyc", "blood sugar", "blutzucker")


def read_observation(raw: dict[str, Any], flags: list[str]) -> tuple[list[Fact], bool]:
    """What an Observation states, and whether it is withdrawn. Raises Hold, PassOver; adds to `flags`."""
    found = _meanings(raw)
    if not found:
        _check_not_our_own(raw)
        _check_not_glucose(raw)
        raise PassOver(_named(raw))
    record = modelled(Observation, raw)
    if record.status == WITHDRAWN:
        return [], True
    if record.status in _NOT_YET:
        raise PassOver(_NOT_YET[record.status])
    if any(record.subject is None or one.reference != record.subject.reference for one in record.focus):
        raise Hold("focus_on_another", "focus", record.focus[0].reference)
    if record.status in _FLAGGED:
        flags.append(_FLAGGED[record.status])
    use = _one_use(found)
    if use == codes.SUMMARY:
        raise PassOver("a summary over a time, no reading")
    if use == codes.WEIGHT:
        return [_weight(record, flags)], False
    if use == codes.CARBOHYDRATE:
        return [_carbohydrate(record, flags)], False
    if use == codes.EXERCISE:
        return [_exercise(record, flags)], False
    return _glucose(record, use, found, flags), False


def _meanings(raw: dict[str, Any]) -> list[Code]:
    """What the codings of a raw record and of its components mean; unknown ones mean nothing here."""
    found = _coded(raw.get("code"))
    if not found:
        components = raw.get("component")
        for component in components if isinstance(components, list) else ():
            found += [code for code in _coded(component.get("code") if isinstance(component, dict) else None)
                      if code.use in {codes.SENSOR, codes.BODY_FLUID, codes.BLOOD}]  # fmt: skip
    return found


def _coded(concept: object) -> list[Code]:
    codings = concept.get("coding") if isinstance(concept, dict) else None
    keys = [(one.get("system"), one.get("code")) for one in codings if isinstance(one, dict)] if isinstance(
        codings, list) else []  # fmt: skip
    return [codes.OBSERVATIONS[key] for key in keys
            if isinstance(key[0], str) and isinstance(key[1], str) and key in codes.OBSERVATIONS]  # fmt: skip


def _one_use(found: list[Code]) -> str:
    """The one meaning of all codings. Body fluid beside a sensor's code is that sensor's."""
    uses = {code.use for code in found}
    if uses == {codes.SENSOR, codes.BODY_FLUID}:
        return codes.SENSOR
    if len(uses) > 1:
        raise Hold("codes_contradict", "code", ", ".join(sorted(uses)))
    return uses.pop()


def _check_not_our_own(raw: dict[str, Any]) -> None:
    """What this program found is never read back as if somebody had measured it."""
    concept = raw.get("code")
    codings = concept.get("coding") if isinstance(concept, dict) else None
    for one in codings if isinstance(codings, list) else ():
        if isinstance(one, dict) and one.get("system") == codes.OWN_FINDINGS:
            raise PassOver("a finding of this program, no input")


def _check_not_glucose(raw: dict[str, Any]) -> None:
    """A record that speaks of glucose under no code known here is held, not passed over."""
    concept = raw.get("code")
    if not isinstance(concept, dict):
        modelled(Observation, raw)  # says what is wrong with it
        return
    codings = concept.get("coding")
    said = [concept.get("text"), *(one.get("display") for one in codings if isinstance(one, dict))] if isinstance(
        codings, list) else [concept.get("text")]  # fmt: skip
    words = " ".join(word for word in said if isinstance(word, str)).lower()
    if any(word in words for word in _GLUCOSE_WORDS):
        raise Hold("glucose_code_unknown", "code", words)


def _named(raw: dict[str, Any]) -> str:
    """What a record of another kind is called."""
    concept = raw.get("code")
    codings = concept.get("coding") if isinstance(concept, dict) else None
    first = codings[0] if isinstance(codings, list) and codings and isinstance(codings[0], dict) else {}
    name = first.get("display") or (concept.get("text") if isinstance(concept, dict) else "") or first.get("code")
    return f"an Observation of another kind ({str(name or 'no code')[:60]})"


def _glucose(record: Observation, use: str, found: list[Code], flags: list[str]) -> list[Fact]:
    kind = Kind.FINGER if use == codes.BLOOD else Kind.READING
    if use == codes.BODY_FLUID:
        flags.append("body_fluid_code")
    units = {code.unit for code in found if code.unit}
    code_unit = units.pop() if len(units) == 1 else ""
    if record.valueSampledData is not None:
        return sampled_facts(record, record.valueSampledData, kind, code_unit, flags)
    valued = _valued(record)
    if valued.dataAbsentReason is not None:
        return _without_value(record, valued, kind, flags)
    if valued.valueQuantity is None:
        raise Hold("value_not_a_quantity" if valued.values else "no_value", "value")
    return [_quantity(record, valued.valueQuantity, kind, code_unit, flags)]


def _valued(record: Observation) -> Valued:
    """Where the value stands: in the record, or in a component of it that is coded as glucose."""
    if record.values or record.dataAbsentReason is not None:
        return record
    glucose = [one for one in record.component if any(
        codes.OBSERVATIONS.get(key, Code("")).use in {codes.SENSOR, codes.BODY_FLUID, codes.BLOOD}
        for key in one.code.keys)]  # fmt: skip
    if len(glucose) > 1:
        raise Hold("codes_contradict", "component", f"{len(glucose)} glucose values")
    return glucose[0] if glucose else record


def _without_value(record: Observation, valued: Valued, kind: Kind, flags: list[str]) -> list[Fact]:
    assert valued.dataAbsentReason is not None  # the caller has looked
    reasons = {code for system, code in valued.dataAbsentReason.keys if system == codes.ABSENT_REASONS}
    sides = {_INFINITY[reason] for reason in reasons if reason in _INFINITY}
    if len(sides) == 1:
        return [Fact(kind, measured_at(record, flags), range=sides.pop())]
    if reasons & _IN_TEXT:
        flags.append("text_only_value")
        raise PassOver("a value that stands in prose alone")
    raise PassOver("no value: " + (", ".join(sorted(reasons)) or "without a known reason"))


def _quantity(record: Observation, value: Quantity, kind: Kind, code_unit: str, flags: list[str]) -> Fact:
    if value.value is None:
        raise PassOver("no value: without a known reason")
    unit = unit_of(value, flags)
    scale = mg_dl_per_unit(unit)
    if code_unit and scale != mg_dl_per_unit(code_unit):
        raise Hold("unit_code_mismatch", "valueQuantity", unit)
    mg_dl = finite(float(value.value), "valueQuantity") * scale
    at = measured_at(record, flags)
    if value.comparator is None:
        return Fact(kind, at, amount=mg_dl)
    side = Range.BELOW if value.comparator[0] == "<" else Range.ABOVE
    checked_bound(mg_dl, side)
    return Fact(kind, at, amount=mg_dl, range=side)


def _own_quantity(record: Observation) -> Quantity:
    """The record's value as a quantity. Raises PassOver where a reason says why there is none."""
    if record.dataAbsentReason is not None:
        raise PassOver("no value: a reason stands in its place")
    if record.valueQuantity is None:
        raise Hold("value_not_a_quantity" if record.values else "no_value", "value")
    return record.valueQuantity


def _weight(record: Observation, flags: list[str]) -> Fact:
    kg = weight_kg(_own_quantity(record), flags)
    at, day = weighed_at(record)
    return Fact(Kind.WEIGHT, at, on=day, amount=kg)


def _carbohydrate(record: Observation, flags: list[str]) -> Fact:
    grams = in_grams(_own_quantity(record), flags)
    if grams is None:
        raise Hold("unit_unknown", "valueQuantity")
    return Fact(Kind.FOOD, begun_at(record)[0], amount=grams)


def _exercise(record: Observation, flags: list[str]) -> Fact:
    start, end = begun_at(record)
    until = None if end is None else end.utc
    for component in record.component:
        if codes.EXERCISE_MINUTES in component.code.keys and component.valueQuantity is not None and until is None:
            if unit_of(component.valueQuantity, flags) != "min":
                raise Hold("unit_unknown", "component", component.valueQuantity.code)
            until = start.utc + timedelta(minutes=min(1440.0, number_of(component.valueQuantity, "component")))
    return Fact(Kind.ACTIVITY, start, until)
