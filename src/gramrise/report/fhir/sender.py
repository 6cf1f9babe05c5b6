"""What every record of one bundle shares: whose it is, on whose clock, and what software computed it."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from gramrise import __version__
from gramrise.connectors.fhir import OWN_FINDINGS
from gramrise.domain.person import Person
from gramrise.report.fhir.elements import Resource, local
from gramrise.report.fhir.vocabulary import identity


@dataclass(frozen=True, slots=True)
class Sender:
    """One person of one household; `model_version` is that of the findings, `now_utc` the moment of writing."""

    household: str
    person: Person
    model_version: str
    now_utc: datetime

    def named(self, *parts: object) -> str:
        """The identity of a record of this person."""
        return identity(self.household, self.person.person_id, *parts)

    @property
    def zone(self) -> ZoneInfo:
        return self.person.zone_now()

    def when(self, at_utc: datetime, offset_minutes: int | None = None) -> str:
        return local(at_utc, self.zone, offset_minutes)

    @property
    def patient_name(self) -> str:
        return self.named("person")

    @property
    def device_name(self) -> str:
        return identity(self.household, "software", __version__, self.model_version)

    @property
    def about(self) -> dict[str, Any]:
        """`subject` of a record."""
        return {"subject": {"reference": self.patient_name}}

    @property
    def by_software(self) -> dict[str, Any]:
        """`device` of what was computed."""
        return {"device": {"reference": self.device_name}}

    def patient(self) -> Resource:
        """The person by the household's own id, so that the same household knows the records again."""
        own = {"system": OWN_FINDINGS, "value": self.person.person_id}
        names = {"name": [{"text": self.person.name}]} if self.person.name else {}
        return {"resourceType": "Patient", "identifier": [own], **names, "birthDate": self.person.born.isoformat()}

    def device(self) -> Resource:
        return {
            "resourceType": "Device",
            "deviceName": [{"name": "gramrise", "type": "user-friendly-name"}],
            "type": {"text": "software that analyses sensor glucose and logs of glucose given"},
            "version": [
                {"type": {"text": "program"}, "value": __version__},
                {"type": {"text": "model"}, "value": self.model_version},
            ],
            "note": [{"text": "Not certified as a medical device; use only as agreed with the care team."}],
        }
