"""What was logged and found, as a FHIR R4 transaction bundle that a clinic's system can take in."""
