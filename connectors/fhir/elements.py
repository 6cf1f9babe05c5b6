"""Strict models of the FHIR R4 resources that are read: all elements of the standard by name, those we read by type."""

from decimal import Decimal
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

_ANYWHERE = ("id", "extension", "modifierExtension")
_RESOURCE = ("meta", "implicitRules", "language", "text", "contained")


def _number(value: object) -> Decimal:
    if isinstance(value, Decimal):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        return Decimal(value)
    raise PydanticCustomError("not_a_number", "this is no JSON number")


Number = Annotated[Decimal, BeforeValidator(_number)]
Text = Annotated[str, Field(min_length=1)]


class Read(BaseModel):
    """A part of a resource. `unread` are its further elements in R4; any other name is refused."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid")
    unread: ClassVar[tuple[str, ...]] = ()

    @model_validator(mode="before")
    @classmethod
    def _named_in_the_standard(cls, value: Any) -> Any:
        if not isinstance(value, dict):
            raise PydanticCustomError("not_an_object", "this must be an object")
        fields = cls.model_fields
        kept = {}
        for name, inner in value.items():
            if name in fields:
                kept[name] = inner
                continue
            plain = name.removeprefix("_")  # '_value' carries the extensions of 'value'
            if plain not in fields and plain not in cls.unread and plain not in _ANYWHERE:
                raise PydanticCustomError("unknown_element", "'{name}' is no element of it", {"name": name[:40]})
        return kept


class Coding(Read):
    unread = ("version", "display", "userSelected")
    system: Text | None = None
    code: Text | None = None


class CodeableConcept(Read):
    coding: list[Coding] = []
    text: Text | None = None

    @property
    def keys(self) -> list[tuple[str, str]]:
        """(system, code) of every coding that has both."""
        return [(one.system, one.code) for one in self.coding if one.system and one.code]


class Identifier(Read):
    unread = ("use", "type", "period", "assigner")
    system: Text | None = None
    value: Text | None = None


class Reference(Read):
    reference: Text | None = None
    type: Text | None = None
    identifier: Identifier | None = None
    display: Text | None = None


class Period(Read):
    start: Text | None = None
    end: Text | None = None


class Quantity(Read):
    """A quantity; rule qty-3 of the standard: a code needs its system."""

    value: Number | None = None
    comparator: Literal["<", "<=", ">=", ">"] | None = None
    unit: Text | None = None
    system: Text | None = None
    code: Text | None = None

    @model_validator(mode="after")
    def _code_has_a_system(self) -> "Quantity":
        if self.code is not None and self.system is None:
            raise PydanticCustomError("code_without_system", "a unit code needs its system")
        return self


class Ratio(Read):
    numerator: Quantity | None = None
    denominator: Quantity | None = None


class SampledData(Read):
    origin: Quantity
    period: Number
    factor: Number | None = None
    lowerLimit: Number | None = None  # noqa: N815 - the standard's own name
    upperLimit: Number | None = None  # noqa: N815
    dimensions: int
    data: Text | None = None


class Meta(Read):
    unread = ("source", "profile", "security", "tag")
    versionId: Text | None = None  # noqa: N815
    lastUpdated: Text | None = None  # noqa: N815


_VALUES = ("valueQuantity", "valueCodeableConcept", "valueString", "valueBoolean", "valueInteger", "valueRange",
           "valueRatio", "valueSampledData", "valueTime", "valueDateTime", "valuePeriod")  # fmt: skip


class Valued(Read):
    """What an Observation and its components share: a code, and one value or a reason why there is none (obs-6)."""

    code: CodeableConcept
    valueQuantity: Quantity | None = None  # noqa: N815
    valueCodeableConcept: CodeableConcept | None = None  # noqa: N815
    valueSampledData: SampledData | None = None  # noqa: N815
    valueString: Any = None  # noqa: N815
    valueBoolean: Any = None  # noqa: N815
    valueInteger: Any = None  # noqa: N815
    valueRange: Any = None  # noqa: N815
    valueRatio: Any = None  # noqa: N815
    valueTime: Any = None  # noqa: N815
    valueDateTime: Any = None  # noqa: N815
    valuePeriod: Any = None  # noqa: N815
    dataAbsentReason: CodeableConcept | None = None  # noqa: N815

    @property
    def values(self) -> list[str]:
        """Names of the values it holds."""
        return [name for name in _VALUES if getattr(self, name) is not None]

    @model_validator(mode="after")
    def _one_value_or_a_reason(self) -> "Valued":
        values = self.values
        if len(values) > 1:
            raise PydanticCustomError("two_values", "it has two values")
        if self.dataAbsentReason is not None and self._has_one(values):
            raise PydanticCustomError("obs_6", "it has a value and a reason why there is none")
        return self

    def _has_one(self, values: list[str]) -> bool:
        return bool(values)


class Component(Valued):
    unread = ("interpretation", "referenceRange")


ObservationStatus = Literal[
    "registered", "preliminary", "final", "amended", "corrected", "cancelled", "entered-in-error", "unknown"
]


class Timed(Read):
    """What every resource that is read has: identity, person and time."""

    id: Text | None = None
    meta: Meta | None = None
    identifier: list[Identifier] = []
    subject: Reference | None = None
    effectiveDateTime: Text | None = None  # noqa: N815
    effectivePeriod: Period | None = None  # noqa: N815

    @model_validator(mode="after")
    def _one_time(self) -> "Timed":
        names = ("effectiveDateTime", "effectivePeriod", "effectiveTiming", "effectiveInstant")
        if sum(getattr(self, name, None) is not None for name in names) > 1:
            raise PydanticCustomError("two_times", "it has two times")
        return self


class Observation(Timed, Valued):
    unread = (*_RESOURCE, "basedOn", "partOf", "category", "encounter", "performer", "interpretation", "note",
              "bodySite", "method", "specimen", "device", "referenceRange", "hasMember", "derivedFrom")  # fmt: skip
    resourceType: Literal["Observation"]  # noqa: N815
    status: ObservationStatus
    effectiveTiming: Any = None  # noqa: N815
    effectiveInstant: Text | None = None  # noqa: N815
    issued: Text | None = None
    focus: list[Reference] = []
    component: list[Component] = []


class _OfMedication(Timed):
    medicationCodeableConcept: CodeableConcept | None = None  # noqa: N815
    medicationReference: Reference | None = None  # noqa: N815

    @model_validator(mode="after")
    def _one_medication(self) -> "_OfMedication":
        if (self.medicationCodeableConcept is None) == (self.medicationReference is None):
            raise PydanticCustomError("one_medication", "it needs exactly one medication")
        return self


class AdministrationDosage(Read):
    unread = ("site", "route", "method")
    text: Text | None = None
    dose: Quantity | None = None
    rateQuantity: Quantity | None = None  # noqa: N815
    rateRatio: Ratio | None = None  # noqa: N815


class MedicationAdministration(_OfMedication):
    unread = (*_RESOURCE, "instantiates", "partOf", "statusReason", "category", "context", "supportingInformation",
              "performer", "reasonCode", "reasonReference", "request", "device", "note", "eventHistory")  # fmt: skip
    resourceType: Literal["MedicationAdministration"]  # noqa: N815
    status: Literal["in-progress", "not-done", "on-hold", "completed", "entered-in-error", "stopped", "unknown"]
    dosage: AdministrationDosage | None = None


class DoseAndRate(Read):
    unread = ("type", "doseRange", "rateRange", "rateQuantity", "rateRatio")
    doseQuantity: Quantity | None = None  # noqa: N815


class StatementDosage(Read):
    unread = ("sequence", "additionalInstruction", "patientInstruction", "timing", "asNeededBoolean",
              "asNeededCodeableConcept", "site", "route", "method", "maxDosePerPeriod", "maxDosePerAdministration",
              "maxDosePerLifetime")  # fmt: skip
    text: Text | None = None
    doseAndRate: list[DoseAndRate] = []  # noqa: N815


class MedicationStatement(_OfMedication):
    unread = (*_RESOURCE, "basedOn", "partOf", "statusReason", "category", "context", "dateAsserted",
              "informationSource", "derivedFrom", "reasonCode", "reasonReference", "note")  # fmt: skip
    resourceType: Literal["MedicationStatement"]  # noqa: N815
    status: Literal["active", "completed", "entered-in-error", "intended", "stopped", "on-hold", "unknown", "not-taken"]
    dosage: list[StatementDosage] = []


class Ingredient(Read):
    itemCodeableConcept: CodeableConcept | None = None  # noqa: N815
    itemReference: Reference | None = None  # noqa: N815
    isActive: bool | None = None  # noqa: N815
    strength: Ratio | None = None


class Medication(Read):
    unread = (*_RESOURCE, "identifier", "status", "manufacturer", "form", "amount", "batch")
    resourceType: Literal["Medication"]  # noqa: N815
    code: CodeableConcept | None = None
    ingredient: list[Ingredient] = []
