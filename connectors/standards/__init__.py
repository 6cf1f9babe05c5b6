"""What the readers of open standards share: records, strict JSON, written instants, versions of one record."""

from gramrise.connectors.standards.instants import Instant, fhir_time, rfc3339_time
from gramrise.connectors.standards.records import Fact, Held, Hold, Kind, PassOver, Record, StandardRefused
from gramrise.connectors.standards.strict_json import Element, NotStrictJson
from gramrise.connectors.standards.troubles import TROUBLES
from gramrise.connectors.standards.versions import newest_versions

__all__ = [
    "TROUBLES",
    "Element",
    "Fact",
    "Held",
    "Hold",
    "Instant",
    "Kind",
    "NotStrictJson",
    "PassOver",
    "Record",
    "StandardRefused",
    "fhir_time",
    "newest_versions",
    "rfc3339_time",
]
