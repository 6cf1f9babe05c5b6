"""An Open mHealth or IEEE 1752.1 file: one data point, a series, an array of data points, or a data point a line."""

import re
from collections.abc import Iterable
from typing import Any, Final

from gramrise.connectors.open_mhealth.bodies import read_body
from gramrise.connectors.open_mhealth.header import NAMESPACES, Header, read_header
from gramrise.connectors.standards import Held, Hold, NotStrictJson, PassOver, Record
from gramrise.connectors.standards.strict_json import skipped, whole_array, whole_object
from gramrise.connectors.standards.versions import newest_versions

NAME: Final = "open-mhealth"
_SCHEMA_ID: Final = re.compile(r'"schema_id"\s*:')


def looks_like_open_mhealth(head: str) -> bool:
    """Whether a JSON text begins as data points do: a header names the schema of its body."""
    return bool(_SCHEMA_ID.search(head)) and '"header"' in head


def read_open_mhealth(text: str) -> list[Record]:
    """The records of a whole text. Raises NotStrictJson."""
    records: list[Record] = []
    if text[skipped(text, 0) :][:1] == "[":
        for element in whole_array(text):
            records += data_point(element.value, element.row, element.text)
    else:
        try:
            records += data_point(whole_object(text), 1, text.strip())
        except NotStrictJson:
            records = open_mhealth_line_records(enumerate(text.split("\n"), 1))
            if all(record.held and record.held[0].code == "not_json" for record in records):
                raise
    newest_versions(records)
    return records


def open_mhealth_line_records(lines: Iterable[tuple[int, str]]) -> list[Record]:
    """The records of (row, line). Blank lines are skipped."""
    records: list[Record] = []
    for row, line in lines:
        if not line.strip():
            continue
        try:
            records += data_point(whole_object(line), row, line.strip())
        except NotStrictJson as problem:
            records.append(Record(row, line.strip(), held=(Held("not_json", "", problem.what[:80]),)))
    return records


def data_point(value: Any, row: int, text: str) -> list[Record]:
    """A data point as one record, a series as one record for each entry of its body."""
    if not isinstance(value, dict):
        return [Record(row, text, held=(Held("not_json", "", "no object"),))]
    try:
        header = read_header(value.get("header"))
        if header.schema.namespace not in NAMESPACES:
            raise PassOver(f"a record of another namespace ({header.schema.namespace[:40]})")
        if "body" not in value:
            raise Hold("not_the_standard", "body", "it is missing")
    except Hold as hold:
        return [Record(row, text, held=(hold.held,))]
    except PassOver as over:
        return [Record(row, text, passed=over.why)]
    body = value["body"]
    if not isinstance(body, list):
        return [_record(header, body, row, text, header.identity)]
    if not body:
        return [Record(row, text, passed="a series without an entry")]
    return [_record(header, one, row, text, f"{header.identity} {at}") for at, one in enumerate(body, 1)]


def _record(header: Header, body: object, row: int, text: str, identity: str) -> Record:
    record = Record(row, text, header.user_id, identity, header.made.utc)
    flags: list[str] = []
    told = body.get("user_notes") if isinstance(body, dict) else None
    record.notes = (told,) if isinstance(told, str) else ()
    try:
        record.facts = (read_body(header.schema.name, header.schema.version, body, flags),)
    except Hold as hold:
        record.held = (hold.held,)
    except PassOver as over:
        record.passed = over.why
    record.flags = tuple(dict.fromkeys(flags))
    return record
