"""The small parts that records are made of, and an entry of the bundle."""

from datetime import UTC, datetime, timedelta, timezone, tzinfo
from html import escape
from typing import Any, Final
from zoneinfo import ZoneInfo

from gramrise.connectors.fhir import UCUM
from gramrise.report.fhir.vocabulary import IDENTIFIERS, coded

Resource = dict[str, Any]

PER_GRAM: Final = "mg/dL/g"
PER_GRAM_WORDS: Final = "mg/dL per g"


def quantity(value: float, code: str, unit: str = "", comparator: str = "") -> dict[str, Any]:
    """A value with its UCUM code; a bound carries its comparator and is no plain number."""
    told: dict[str, Any] = {"value": _plain(value)}
    if comparator:
        told["comparator"] = comparator
    return told | {"unit": unit or code, "system": UCUM, "code": code}


def _plain(value: float) -> float | int:
    """Whole numbers without a decimal point, which would claim a precision."""
    return int(value) if float(value).is_integer() else float(value)


def rounded(value: float, figures: int = 4) -> float:
    """A computed number in so many figures: more would claim a precision it has not."""
    return float(f"{value:.{figures}g}")


def component(code: str, **value: Any) -> dict[str, Any]:
    return {"code": coded(code), **value}


def interval(low: float, high: float, code: str, unit: str = "") -> dict[str, Any]:
    """The 90 % interval as a component."""
    told = {"low": quantity(rounded(low), code, unit), "high": quantity(rounded(high), code, unit)}
    return component("credible-interval-90", valueRange=told)


def local(at_utc: datetime, zone: ZoneInfo, offset_minutes: int | None = None) -> str:
    """An instant with seconds and the offset that the file had, else that of the person's zone."""
    clock: tzinfo = zone if offset_minutes is None else timezone(timedelta(minutes=offset_minutes))
    return at_utc.astimezone(clock).isoformat(timespec="auto" if at_utc.microsecond else "seconds")


def issued(at_utc: datetime) -> str:
    """An instant in UTC, with seconds."""
    return at_utc.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def narrative(sentence: str) -> dict[str, str]:
    """The sentence a person reads where our codes mean nothing; what it holds is escaped."""
    return {"status": "generated", "div": f'<div xmlns="http://www.w3.org/1999/xhtml">{escape(sentence)}</div>'}


def entry(resource: Resource, own: str) -> dict[str, Any]:
    """A conditional create: stored once, however often the bundle is sent.

    A Provenance has no identifier in R4: it is put under an id of its own, which comes to the same.
    """
    kind = resource["resourceType"]
    request = {"method": "POST", "url": kind}
    if kind == "Provenance":
        request = {"method": "PUT", "url": f"{kind}/{resource['id']}"}
    elif kind == "CodeSystem":
        request["ifNoneExist"] = f"url={resource['url']}&version={resource['version']}"
    else:
        told = {"system": IDENTIFIERS, "value": own}
        others = resource.get("identifier", [])
        resource = {"resourceType": kind, **resource, "identifier": [*others, told]}
        request["ifNoneExist"] = f"identifier={IDENTIFIERS}|{own}"
    return {"fullUrl": own, "resource": resource, "request": request}
