"""A FHIR R4 file: one resource, a bundle, an array of resources, or a resource a line."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from gramrise.connectors.fhir.bundles import bundle_records, head_of, keep_references
from gramrise.connectors.fhir.resources import FileReferences, no_object, read_resource
from gramrise.connectors.standards import NotStrictJson, Record, StandardRefused
from gramrise.connectors.standards.strict_json import (
    Element,
    array_elements,
    members,
    skipped,
    whole_array,
    whole_object,
)
from gramrise.connectors.standards.versions import newest_versions

NAME: Final = "fhir-r4"
_RESOURCE_TYPE: Final = re.compile(r'"resourceType"\s*:')
_MANIFEST: Final = re.compile(r'"transactionTime"\s*:.*"output"\s*:', re.DOTALL)


@dataclass(slots=True)
class FhirContent:
    """The records of a file, and sentences about the file as a whole."""

    records: list[Record]
    remarks: list[str] = field(default_factory=list)
    references: FileReferences = field(default_factory=FileReferences)


def looks_like_fhir(head: str) -> bool:
    """Whether a JSON text begins as FHIR does: a resource type is named near its beginning."""
    return bool(_RESOURCE_TYPE.search(head) or _MANIFEST.search(head))


def read_fhir(text: str) -> FhirContent:
    """The records of a whole text. Raises NotStrictJson, StandardRefused."""
    if text[skipped(text, 0) :][:1] == "[":
        return _array(text)
    try:
        found, entries_at = members(text, "entry")
    except NotStrictJson:
        if not _has_an_object_line(text):
            raise
        references = FileReferences()
        records = fhir_line_records(enumerate(text.split("\n"), 1), references)
        newest_versions(records)
        return FhirContent(records, references=references)
    _check_no_manifest(found)
    if found.get("resourceType") == "Bundle":
        return _bundle(text, found, entries_at)
    references = FileReferences()
    records = [read_resource(whole_object(text), 1, text.strip(), references)]
    return FhirContent(records, references=references)


def fhir_line_records(lines: Iterable[tuple[int, str]], references: FileReferences) -> list[Record]:
    """The records of (row, line); a bundle on a line gives those of its entries. Blank lines are skipped."""
    records: list[Record] = []
    for row, line in lines:
        if not line.strip():
            continue
        try:
            value = whole_object(line)
        except NotStrictJson as problem:
            records.append(no_object(row, line.strip(), problem.what))
            continue
        if value.get("resourceType") != "Bundle":
            records.append(read_resource(value, row, line.strip(), references))
            continue
        records += _bundle_on_a_line(value, row, references)
    return records


def _bundle_on_a_line(value: dict[str, Any], row: int, references: FileReferences) -> list[Record]:
    try:
        head = head_of(value)
    except StandardRefused as problem:
        return [no_object(row, "", problem.what)]
    entries = value.get("entry", [])
    elements = [Element(row, "", entry) for entry in entries] if isinstance(entries, list) else []
    keep_references(iter(elements), references)
    return bundle_records(head, iter(elements), references)


def _array(text: str) -> FhirContent:
    references = FileReferences()
    for element in whole_array(text):
        if isinstance(element.value, dict):
            references.add(element.value)
    records: list[Record] = []
    for element in whole_array(text):
        if not isinstance(element.value, dict):
            records.append(no_object(element.row, element.text, "an element that is no object"))
        elif element.value.get("resourceType") == "Bundle":
            records += _bundle_on_a_line(element.value, element.row, references)
        else:
            records.append(read_resource(element.value, element.row, element.text, references))
    newest_versions(records)
    return FhirContent(records, references=references)


def _bundle(text: str, found: dict[str, Any], entries_at: int | None) -> FhirContent:
    if "entry" in found and entries_at is None:
        raise StandardRefused("bundle_broken", "the entries of the bundle are no array", "export it again")
    head = head_of(found)
    references = FileReferences()
    if entries_at is not None:
        keep_references(array_elements(text, entries_at), references)
    entries: Iterator[Element] = array_elements(text, entries_at) if entries_at is not None else iter(())
    if entries_at is not None and not text[skipped(text, entries_at + 1) :][:1] != "]":
        raise StandardRefused("bundle_broken", "the bundle has an empty array of entries", "export it again")
    content = FhirContent(bundle_records(head, entries, references), references=references)
    if head.has_next:
        told = f" of {head.total}" if head.total is not None else ""
        content.remarks.append(f"This is one page{told} of a search; bring the pages that follow it, too.")
    return content


def _check_no_manifest(found: dict[str, Any]) -> None:
    if "transactionTime" in found and isinstance(found.get("output"), list):
        names = [str(one.get("url", "")).rsplit("/", 1)[-1] for one in found["output"] if isinstance(one, dict)]
        raise StandardRefused(
            "bulk_manifest",
            "it is the list of an export and holds no records itself",
            f"bring the files it names: {', '.join(names)[:200]}",
            waits=True,
        )


def _has_an_object_line(text: str) -> bool:
    lines = [line for line in text.split("\n") if line.strip()]
    if len(lines) < 2:
        return False
    for line in lines[:1000]:
        try:
            whole_object(line)
        except NotStrictJson:
            continue
        return True
    return False
