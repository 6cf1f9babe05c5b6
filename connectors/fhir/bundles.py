"""Bundles: which entries are read, which only support them, and which delete. Every type that can be read honestly."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from gramrise.connectors.fhir.resources import FileReferences, no_object, read_resource
from gramrise.connectors.standards import Element, Record, StandardRefused
from gramrise.connectors.standards.versions import newest_versions

READ: Final = frozenset({"collection", "searchset", "transaction", "batch", "history"})
_WITH_REQUESTS: Final = frozenset({"transaction", "batch", "history"})


@dataclass(frozen=True, slots=True)
class BundleHead:
    """What a bundle says of itself: its type, how many matches all its pages hold, and whether another page follows."""

    type: str
    total: int | None
    has_next: bool


def head_of(members: dict[str, Any]) -> BundleHead:
    """The head of a bundle from its members. Raises StandardRefused for a type that cannot be read."""
    kind = members.get("type")
    if not isinstance(kind, str) or kind not in READ:
        raise StandardRefused(
            "bundle_type",
            f"it is a FHIR bundle of type '{str(kind)[:40]}', which holds no plain list of records",
            "export the records as a collection, a search result or lines of JSON",
        )
    links = members.get("link")
    relations = [link.get("relation") for link in links if isinstance(link, dict)] if isinstance(links, list) else []
    total = members.get("total")
    return BundleHead(str(kind), total if isinstance(total, int) else None, "next" in relations)


def keep_references(entries: Iterator[Element], references: FileReferences) -> None:
    """Keeps what records may refer to, wherever it stands in the bundle."""
    for element in entries:
        entry = element.value
        if isinstance(entry, dict) and isinstance(entry.get("resource"), dict):
            references.add(entry["resource"], str(entry.get("fullUrl") or ""))


def bundle_records(head: BundleHead, entries: Iterator[Element], references: FileReferences) -> list[Record]:
    """The records of a bundle's entries; of each record the newest version."""
    records = [_entry_record(head, element, references) for element in entries]
    _settle_deletes(records)
    newest_versions(records, newest_first=head.type == "history")
    return records


def _entry_record(head: BundleHead, element: Element, references: FileReferences) -> Record:
    entry = element.value
    if not isinstance(entry, dict):
        return no_object(element.row, element.text, "an entry that is no object")
    request = entry.get("request")
    method = request.get("method") if isinstance(request, dict) else None
    if head.type in _WITH_REQUESTS and method not in ("POST", "PUT"):
        return _request_alone(element, request if isinstance(request, dict) else {})
    resource = entry.get("resource")
    if not isinstance(resource, dict):
        return no_object(element.row, element.text, "an entry without a resource")
    search = entry.get("search")
    mode = search.get("mode") if isinstance(search, dict) else "match"
    if head.type == "searchset" and mode not in ("match", None):
        return Record(element.row, element.text, passed=f"beside the search ({mode}): {resource.get('resourceType')}")
    return read_resource(resource, element.row, element.text, references, str(entry.get("fullUrl") or ""))


def _request_alone(element: Element, request: dict[str, Any]) -> Record:
    """An entry that carries no resource to read: a deletion, or a question to the server."""
    method = request.get("method")
    if method is None:
        return no_object(element.row, element.text, "an entry without its request")
    if method == "DELETE":
        return _deleted(element, str(request.get("url") or ""))
    return Record(element.row, element.text, passed=f"a request to {method}")


def _deleted(element: Element, url: str) -> Record:
    """A record that is taken back by its address."""
    address = url.split("/_history/", maxsplit=1)[0]
    if not address or "?" in address:
        return no_object(element.row, element.text, f"a deletion that names no record: {url}")
    return Record(element.row, element.text, identity=address, withdrawn=True)


def _settle_deletes(records: list[Record]) -> None:
    """A deletion by 'Type/ID' is of the record of that server whose address ends so."""
    full = {one.identity.split("://", 1)[-1].partition("/")[2]: one.identity for one in records
            if "://" in one.identity and not one.withdrawn}  # fmt: skip
    ends = {"/".join(path.split("/")[-2:]): address for path, address in full.items()}
    for one in records:
        if one.withdrawn and "://" not in one.identity:
            one.identity = ends.get(one.identity, one.identity)
