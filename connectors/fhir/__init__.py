"""HL7 FHIR R4: glucose of sensor and blood, body weight, glucose given, insulin, food and exercise."""

from gramrise.connectors.fhir.reader import NAME, FhirContent, fhir_line_records, looks_like_fhir, read_fhir
from gramrise.connectors.fhir.resources import FileReferences

__all__ = ["NAME", "FhirContent", "FileReferences", "fhir_line_records", "looks_like_fhir", "read_fhir"]
