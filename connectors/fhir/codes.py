"""Codes of FHIR records and what they are taken for. Each was seen so in a published guide, or is marked.

Displays are left out: LOINC is copyright Regenstrief Institute, SNOMED CT copyright SNOMED International.
"""

from dataclasses import dataclass
from typing import Final

LOINC: Final = "http://loinc.org"
SNOMED: Final = "http://snomed.info/sct"
DEVICES: Final = "urn:iso:std:iso:11073:10101"
RXNORM: Final = "http://www.nlm.nih.gov/research/umls/rxnorm"
SUBSTANCES: Final = "http://fdasis.nlm.nih.gov"
ATC: Final = "http://www.whocc.no/atc"
UCUM: Final = "http://unitsofmeasure.org"
ABSENT_REASONS: Final = "http://terminology.hl7.org/CodeSystem/data-absent-reason"

# Our own code system, as the review writes it; it has no address, as nobody owns one. It names findings, never inputs.
OWN_FINDINGS: Final = "urn:uuid:3e5dbf01-e54e-5bbd-ad48-e4db2a13e054"

SENSOR, BODY_FLUID, BLOOD, SUMMARY = "sensor", "body fluid", "blood", "summary"
WEIGHT, CARBOHYDRATE, EXERCISE = "weight", "carbohydrate", "exercise"
GLUCOSE, MONOHYDRATE, ANHYDROUS = "glucose", "glucose monohydrate", "anhydrous glucose"
INSULIN, LONG_INSULIN = "insulin", "long-acting insulin"


@dataclass(frozen=True, slots=True)
class Code:
    """What a code is taken for; `unit` where the code itself fixes one."""

    use: str
    unit: str = ""


def _table(use: str, system: str, unit: str, *codes: str) -> dict[tuple[str, str], Code]:
    return {(system, code): Code(use, unit) for code in codes}


OBSERVATIONS: Final[dict[tuple[str, str], Code]] = {
    **_table(SENSOR, LOINC, "mg/dL", "99504-3"),
    **_table(SENSOR, LOINC, "mmol/L", "105272-9"),
    **_table(SENSOR, DEVICES, "", "160212"),
    # Body fluid was the older choice for sensor glucose. 2344-0 is from memory: the mass twin of 14745-4.
    **_table(BODY_FLUID, LOINC, "mmol/L", "14745-4"),
    **_table(BODY_FLUID, LOINC, "mg/dL", "2344-0"),
    # 32016-8 is from memory; its group is confirmed.
    **_table(BLOOD, LOINC, "mg/dL", "2339-0", "2345-7", "41653-7", "2340-8", "2341-6", "32016-8"),
    **_table(BLOOD, LOINC, "mmol/L", "15074-8", "14749-6", "14743-9"),
    **_table(BLOOD, DEVICES, "", "160184", "160368"),
    **_table(SUMMARY, LOINC, "", "97507-8", "105273-7", "107931-8", "106793-3", "104642-4", "104641-6", "97510-2"),
    **_table(SUMMARY, LOINC, "", "104640-8", "104639-0", "97506-0", "104638-2", "104636-6", "104637-4"),
    # 3141-9 and 3142-7 are from memory.
    **_table(WEIGHT, LOINC, "", "29463-7", "3141-9", "3142-7", "8350-1", "8351-9"),
    **_table(WEIGHT, SNOMED, "", "27113001"),
    **_table(CARBOHYDRATE, LOINC, "", "9059-7"),
    **_table(CARBOHYDRATE, SNOMED, "", "788472008"),
    **_table(EXERCISE, LOINC, "", "55409-7"),
}
EXERCISE_MINUTES: Final = (LOINC, "55411-3")

MEDICATIONS: Final[dict[tuple[str, str], Code]] = {
    **_table(GLUCOSE, SNOMED, "", "67079006"),
    **_table(GLUCOSE, RXNORM, "", "4850"),  # from memory
    **_table(GLUCOSE, SUBSTANCES, "", "IY9XDZ35W2"),  # the form is not stated
    **_table(ANHYDROUS, SUBSTANCES, "", "5SL0G7R0OK"),
    **_table(MONOHYDRATE, SUBSTANCES, "", "LX22YL083G"),
    **_table(INSULIN, SNOMED, "", "67866001", "411531001"),
    **_table(INSULIN, RXNORM, "", "5856", "86009", "51428"),  # from memory
    **_table(LONG_INSULIN, SNOMED, "", "411529005"),
    **_table(LONG_INSULIN, ATC, "", "A10AE04"),
}
