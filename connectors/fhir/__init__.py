"""HL7 FHIR R4: glucose of sensor and blood, body weight, glucose given, insulin, food and exercise."""

from gramrise.connectors.fhir.codes import ABSENT_REASONS, LOINC, OWN_FINDINGS, SNOMED, UCUM
from gramrise.connectors.fhir.reader import NAME, FhirContent, fhir_line_records, looks_like_fhir, read_fhir
from gramrise.connectors.fhir.resources import FileReferences

__all__ = [
    "ABSENT_REASONS",
    "LOINC",
    "NAME",
    "OWN_FINDINGS",
    "SNOMED",
    "UCUM",
    "FhirContent",
    "FileReferences",
    "fhir_line_records",
    "looks_like_fhir",
    "read_fhir",
]
