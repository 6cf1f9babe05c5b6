"""Whose a FHIR record is: its subject by one name, whichever way it is referred to."""

from collections.abc import Mapping
from typing import Any

from gramrise.connectors.standards import Hold


def subject_of(raw: dict[str, Any], patients: Mapping[str, dict[str, Any]]) -> str:
    """The name of the subject; '' where the record names nobody. Raises Hold for a subject that is no person.

    patients  Patient resources of the file by what may refer to them (fullUrl, Patient/ID)
    """
    subject = raw.get("subject")
    if not isinstance(subject, dict):
        return ""
    reference, kind = subject.get("reference"), subject.get("type")
    if isinstance(reference, str) and reference:
        if reference.startswith("#"):
            return _contained(raw, reference)
        patient = patients.get(reference)
        if patient is not None:
            return patient_name(patient) or reference
        name = reference.split("/_history/")[0]
        if "/" in name and name.split("/")[-2] != "Patient":
            raise Hold("subject_not_a_person", "subject", reference)
        return name
    if isinstance(kind, str) and kind != "Patient":
        raise Hold("subject_not_a_person", "subject", kind)
    identifier = subject.get("identifier")
    if isinstance(identifier, dict) and isinstance(identifier.get("value"), str):
        return _by_identifier(identifier, patients)
    display = subject.get("display")
    return f"'{display}'" if isinstance(display, str) and display else ""


def patient_name(patient: Mapping[str, Any]) -> str:
    """What a Patient resource is referred to by: its id, else its first identifier; '' where it has neither."""
    own = patient.get("id")
    if isinstance(own, str) and own:
        return f"Patient/{own}"
    identifiers = patient.get("identifier")
    first = identifiers[0] if isinstance(identifiers, list) and identifiers else None
    return _identifier_name(first) if isinstance(first, dict) else ""


def _contained(raw: dict[str, Any], reference: str) -> str:
    contained = raw.get("contained")
    for one in contained if isinstance(contained, list) else ():
        if isinstance(one, dict) and f"#{one.get('id')}" == reference:
            if one.get("resourceType") != "Patient":
                raise Hold("subject_not_a_person", "subject", str(one.get("resourceType")))
            return patient_name({name: value for name, value in one.items() if name != "id"})
    raise Hold("subject_not_a_person", "subject", reference)


def _by_identifier(identifier: dict[str, Any], patients: Mapping[str, dict[str, Any]]) -> str:
    wanted = _identifier_name(identifier)
    for patient in patients.values():
        held = patient.get("identifier")
        for one in held if isinstance(held, list) else ():
            if isinstance(one, dict) and _identifier_name(one) == wanted:
                return patient_name(patient) or wanted
    return wanted


def _identifier_name(identifier: Mapping[str, Any]) -> str:
    system, value = identifier.get("system"), identifier.get("value")
    if not isinstance(value, str):
        return ""
    return f"{system}|{value}" if isinstance(system, str) else value
