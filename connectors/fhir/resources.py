"""One FHIR resource to one record: whose it is, which version, and what it states."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

from gramrise.connectors.fhir.elements import Observation
from gramrise.connectors.fhir.medications import named_dose, read_medication
from gramrise.connectors.fhir.observations import read_observation
from gramrise.connectors.fhir.sampled import samples_n
from gramrise.connectors.fhir.shapes import modelled
from gramrise.connectors.fhir.subjects import patient_name, subject_of
from gramrise.connectors.standards import Held, Hold, Instant, PassOver, Record, fhir_time

READ: Final = ("Observation", "MedicationAdministration", "MedicationStatement")
# All resource types of R4 are legal; of these we say by name that they hold nothing to keep.
SUPPORT: Final = ("Patient", "Medication", "Device", "DeviceMetric", "OperationOutcome", "Parameters", "Practitioner",
                  "Organization", "DiagnosticReport", "Encounter", "Condition", "CarePlan", "Provenance",
                  "RelatedPerson", "Specimen", "ServiceRequest", "MedicationRequest", "MedicationDispense",
                  "Procedure", "QuestionnaireResponse", "DocumentReference", "CodeSystem", "Location",
                  "PractitionerRole", "Goal", "CareTeam", "AllergyIntolerance", "Immunization", "NutritionOrder",
                  "Group", "ValueSet", "Binary", "Basic", "Coverage")  # fmt: skip
# What is referred to is kept up to so many resources of a file; our choice: a family's bundle holds a handful.
MOST_REFERRED_TO: Final = 100_000


@dataclass(slots=True)
class FileReferences:
    """What the records of one file refer to, by fullUrl and by Type/ID."""

    patients: dict[str, dict[str, Any]] = field(default_factory=dict)
    medications: dict[str, dict[str, Any]] = field(default_factory=dict)
    called: dict[str, list[dict[str, Any]]] = field(default_factory=dict)  # Patients told within records, by `whose`

    def patients_of(self, whose: str) -> list[dict[str, Any]]:
        """What the file tells of a person by the name that its records have for them."""
        own = [one for name, one in self.patients.items() if whose and whose in (name, patient_name(one))]
        return [*own, *self.called.get(whose, [])]

    def tell(self, whose: str, raw: dict[str, Any]) -> None:
        """Keeps what a record tells of its own subject: a Patient within it, or the name that is shown for people."""
        subject = raw.get("subject")
        reference = subject.get("reference") if isinstance(subject, dict) else None
        display = subject.get("display") if isinstance(subject, dict) else None
        contained = raw.get("contained") if isinstance(reference, str) and reference.startswith("#") else None
        told = [one for one in contained if isinstance(one, dict) and f"#{one.get('id')}" == reference] if isinstance(
            contained, list) else []  # fmt: skip
        told += [{"name": [{"text": display}]}] if isinstance(display, str) and display else []
        held = self.called.setdefault(whose, []) if told and len(self.called) < MOST_REFERRED_TO else []
        held += [one for one in told if one not in held]

    def add(self, raw: dict[str, Any], full_url: str = "") -> None:
        """Keeps a Patient or a Medication."""
        kept = {"Patient": self.patients, "Medication": self.medications}.get(str(raw.get("resourceType")))
        if kept is None or len(kept) >= MOST_REFERRED_TO:
            return
        own = raw.get("id")
        names = [full_url, f"{raw['resourceType']}/{own}" if isinstance(own, str) else ""]
        for name in names:
            if name:
                kept[name] = raw


def read_resource(raw: dict[str, Any], row: int, text: str, references: FileReferences, full_url: str = "") -> Record:
    """The record that a resource is. Whatever is wrong with it is held in the record."""
    record = Record(row, text)
    flags: list[str] = []
    try:
        kind = raw.get("resourceType")
        if kind in SUPPORT:
            references.add(raw, full_url)
            raise PassOver(f"a {kind}")
        if kind not in READ:
            raise Hold("not_the_standard", "resourceType", kind)
        record.identity = _identity(raw, full_url)
        record.updated_utc = _updated(raw)
        record.notes = _notes(raw)
        nobody = _subject(record, raw, references)
        if nobody is None:
            references.tell(record.whose, raw)
        record.by_name = None if kind == "Observation" or nobody else named_dose(raw, references.medications)
        facts, record.withdrawn = (
            read_observation(raw, flags)
            if kind == "Observation"
            else read_medication(raw, references.medications, flags)
        )
        if nobody is not None and (facts or record.withdrawn):
            raise nobody
        record.facts = tuple(facts)
        record.gaps = _gaps(raw, len(facts))
        if not facts and not record.withdrawn:
            record.passed = "a series without a value"
    except Hold as hold:
        record.held, record.withdrawn = (hold.held,), False
    except PassOver as over:
        record.passed = over.why
    record.flags = tuple(dict.fromkeys(flags))
    return record


def _subject(record: Record, raw: dict[str, Any], references: FileReferences) -> Hold | None:
    """Sets whose the record is; what is wrong with its subject matters only where the record states something."""
    try:
        record.whose = subject_of(raw, references.patients)
    except Hold as hold:
        return hold
    return None


def _notes(raw: dict[str, Any]) -> tuple[str, ...]:
    """The texts of its annotations, and of how its sender interprets it: 'invalid'."""
    notes = [one for key in ("note", "interpretation") if isinstance(told := raw.get(key), list) for one in told]
    return tuple(one["text"] for one in notes if isinstance(one, dict) and isinstance(one.get("text"), str))


def _gaps(raw: dict[str, Any], facts: int) -> int:
    if "valueSampledData" not in raw or not facts:
        return 0
    data = modelled(Observation, raw).valueSampledData
    return 0 if data is None else samples_n(data) - facts


def _identity(raw: dict[str, Any], full_url: str) -> str:
    """Server and id, else the first identifier; '' where the record has neither.

    An entry that is yet to be stored (urn:uuid) has no id of a server: its identifier comes first.
    """
    kind, own = raw["resourceType"], raw.get("id")
    by_id = f"{kind}/{own}" if isinstance(own, str) and own else ""
    if full_url.startswith(("http://", "https://")) and by_id and full_url.endswith(f"/{by_id}"):
        return full_url
    identifiers = raw.get("identifier")
    first = identifiers[0] if isinstance(identifiers, list) and identifiers else None
    value = first.get("value") if isinstance(first, dict) else None
    by_identifier = f"{kind}?{first.get('system')}|{value}" if isinstance(first, dict) and value else ""
    return (by_identifier or by_id) if full_url.startswith("urn:") else (by_id or by_identifier)


def _updated(raw: dict[str, Any]) -> datetime | None:
    """When this version was stored, else published; a text that is no instant says nothing."""
    meta = raw.get("meta")
    told = [meta.get("lastUpdated") if isinstance(meta, dict) else None, raw.get("issued")]
    for text in told:
        if isinstance(text, str):
            try:
                at = fhir_time(text)
            except ValueError:
                continue
            if isinstance(at, Instant):
                return at.utc
    return None


def no_object(row: int, text: str, why: str) -> Record:
    """A line or an element that is no resource."""
    return Record(row, text, held=(Held("not_json", "", why[:80]),))
