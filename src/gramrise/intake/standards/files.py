"""Which open standard a JSON text is of, and what a layout's name says of values whose origin it leaves open."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from gramrise.connectors import fhir, open_mhealth
from gramrise.connectors.standards import Kind, NotStrictJson, Record, StandardRefused
from gramrise.intake.problems import FileRefused, FileTrouble, FileWaits

HEAD_CHARACTERS: Final = 65_536
# '--layout fhir-r4-sensor': glucose whose origin the records leave open is of a sensor.
_SAID_BY: Final = {"-sensor": Kind.READING, "-finger": Kind.FINGER}
_NAMES: Final = (fhir.NAME, open_mhealth.NAME)


@dataclass(frozen=True, slots=True)
class Standard:
    """A standard by its layout's name, and what the person who brings the file says of glucose of open origin."""

    name: str
    open_glucose: Kind | None = None


@dataclass(frozen=True, slots=True)
class ReadStandard:
    """The records of one text, and sentences about it as a whole."""

    records: list[Record]
    remarks: tuple[str, ...] = ()
    references: fhir.FileReferences | None = None


def is_standard_layout(layout_name: str | None) -> bool:
    """Whether a name that stands behind --layout is that of an open standard."""
    return layout_name is not None and layout_name.removesuffix("-sensor").removesuffix("-finger") in _NAMES


def standard_of(text: str, layout_name: str | None = None) -> Standard | None:
    """The standard that a text is of; None for anything else. A named table layout is never overruled."""
    if layout_name is not None and not is_standard_layout(layout_name):
        return None
    head = text[:HEAD_CHARACTERS].lstrip()
    if head[:1] not in {"{", "["} or not head:
        return None
    said = next((kind for end, kind in _SAID_BY.items() if (layout_name or "").endswith(end)), None)
    first = _first_object(text)
    if first is not None:
        if "resourceType" in first or ("transactionTime" in first and "output" in first):
            return Standard(fhir.NAME, said)
        header = first.get("header")
        is_point = isinstance(header, dict) and "schema_id" in header
        return Standard(open_mhealth.NAME, said) if is_point else None
    if fhir.looks_like_fhir(head):
        return Standard(fhir.NAME, said)
    return Standard(open_mhealth.NAME, said) if open_mhealth.looks_like_open_mhealth(head) else None


def _first_object(text: str) -> dict[str, object] | None:
    """The first object of a text that is one, an array, or lines; None where that is broken."""
    at = len(text) - len(text.lstrip())
    try:
        if text[at] == "[":
            at += 1
            at += len(text[at:]) - len(text[at:].lstrip())
        value, _ = json.JSONDecoder().raw_decode(text, at)
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) else None


def read_standard(text: str, standard: Standard, file: str) -> ReadStandard:
    """The records of a text. Raises FileRefused, FileWaits."""
    try:
        if standard.name == fhir.NAME:
            content = fhir.read_fhir(text)
            return ReadStandard(content.records, tuple(content.remarks), content.references)
        return ReadStandard(open_mhealth.read_open_mhealth(text))
    except NotStrictJson as problem:
        where = f"row {problem.row}: " if problem.row is not None else ""
        raise FileRefused("json_broken", file, f"{where}{problem.what}", "export it again as strict JSON") from problem
    except StandardRefused as problem:
        kind: type[FileTrouble] = FileWaits if problem.waits else FileRefused
        raise kind(problem.code, file, problem.what, problem.mend) from problem


def read_lines(lines: Iterable[tuple[int, str]], standard: Standard, references: fhir.FileReferences) -> list[Record]:
    """The records of (row, line)."""
    if standard.name == fhir.NAME:
        return fhir.fhir_line_records(lines, references)
    return open_mhealth.open_mhealth_line_records(lines)
