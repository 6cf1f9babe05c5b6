"""Texts of the third sample family: records of open standards, FHIR R4 and IEEE 1752.1 / Open mHealth."""

import json
import uuid
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.sources import Source
from gramrise.domain.words import Range

# These days stand in a series of data points: the clock goes back in the night to 2 November.
SERIES_FROM: Final = datetime(2025, 11, 1, 4, tzinfo=UTC)
SERIES_TO: Final = datetime(2025, 11, 3, 5, tzinfo=UTC)
STEP: Final = timedelta(minutes=5)
CHUNK: Final = 72  # samples of a chunk: six hours
LIMITS: Final = (40, 400)
SUBJECT: Final = "Patient/noor"
_NAMES: Final = uuid.UUID("7d0c1c3e-8d4b-4f0a-9a57-0f6a4c2f7e11")
_UCUM: Final = "http://unitsofmeasure.org"
_SNOMED: Final = "http://snomed.info/sct"
_LOINC: Final = "http://loinc.org"


def family_c_files(inputs: Inputs) -> dict[str, str]:
    """File name -> text: chunks of the sensor, a series over the change of clock, a log a record a line, weights."""
    return {
        "sensor.json": _sensor_bundle(inputs),
        "sensor_november.json": _series(inputs),
        "log.ndjson": _log(inputs),
        "weights.json": _weights(inputs),
    }


def _sensor_bundle(inputs: Inputs) -> str:
    """A bundle of SampledData, as servers of sensors hand them out."""
    readings = inputs.readings.filter((pl.col("at_utc") < SERIES_FROM) | (pl.col("at_utc") >= SERIES_TO))
    values = {at: _sample(value, kind) for at, value, kind in readings.select(
        "at_utc", "glucose_mg_dl", "range").iter_rows()}  # fmt: skip
    patient = {"resourceType": "Patient", "id": SUBJECT.split("/")[1]}
    entries = [patient, *(_chunk(start, samples) for start, samples in _chunks(values))]
    lines = ",\n".join(_compact({"resource": one}) for one in entries)
    return f'{{"resourceType":"Bundle","type":"collection","entry":[\n{lines}\n]}}\n'


def _chunks(values: dict[datetime, str]) -> Iterator[tuple[datetime, list[str]]]:
    """Runs of samples on one grid of steps, E where one is missing."""
    left = sorted(values)
    while left:
        start = left[0]
        grid = [start + STEP * n for n in range(CHUNK)]
        held = [at for at in left[:CHUNK] if at <= grid[-1]]
        on_grid = [at for at in held if (at - start) % STEP == timedelta(0)]
        held = held[: next((n for n, at in enumerate(held) if at not in on_grid), len(held))]
        last = int((held[-1] - start) / STEP) + 1
        yield start, [values.get(at, "E") for at in grid[:last]]
        left = left[len(held) :]


def _chunk(start: datetime, samples: list[str]) -> dict[str, Any]:
    return {
        "resourceType": "Observation",
        "id": f"s{start:%m%d%H%M}",
        "status": "final",
        "code": {"coding": [{"system": _LOINC, "code": "99504-3"}]},
        "subject": {"reference": SUBJECT},
        "effectivePeriod": {"start": _utc(start), "end": _utc(start + STEP * len(samples))},
        "valueSampledData": {
            "origin": {"value": 0, "unit": "mg/dL", "system": _UCUM, "code": "mg/dL"},
            "period": int(STEP.total_seconds() * 1000),
            "lowerLimit": LIMITS[0],
            "upperLimit": LIMITS[1],
            "dimensions": 1,
            "data": " ".join(samples),
        },
    }


def _sample(value: float, kind: str) -> str:
    return {Range.BELOW: "L", Range.ABOVE: "U"}.get(Range(kind), f"{value:.0f}")


def _series(inputs: Inputs) -> str:
    """One header and a body an entry; the standard has no word for out of range, so those are left out."""
    zone = inputs.person.zone_now()
    within = (pl.col("at_utc") >= SERIES_FROM) & (pl.col("at_utc") < SERIES_TO) & (pl.col("range") == Range.IN.value)
    readings = inputs.readings.filter(within).select("at_utc", "glucose_mg_dl")
    header = {
        "uuid": _name("series"),
        "schema_id": {"namespace": "omh", "name": "blood-glucose", "version": "4.0"},
        "source_creation_date_time": _local(SERIES_TO, zone),
        "modality": "sensed",
    }
    points = [
        {
            "blood_glucose": {"value": round(value), "unit": "mg/dL"},
            "effective_time_frame": {"date_time": _local(at, zone)},
            "specimen_source": "interstitial fluid",
        }
        for at, value in readings.iter_rows()
    ]
    lines = ",\n".join(map(_compact, points))
    return f'{{"header":{_compact(header)},"body":[\n{lines}\n]}}\n'


def _log(inputs: Inputs) -> str:
    """Glucose given, insulin, food and activity, a FHIR record a line, in order of time."""
    zone = inputs.person.zone_now()
    sources = {source.name: source for source in inputs.person.sources_now()}
    doses = inputs.doses.select("taken_at_utc", "source", "ordinal", "amount", "amount_unit").iter_rows()
    records = [(at, f"g{n}", _given(at, sources[name], amount, unit, zone))
               for at, name, n, amount, unit in doses]  # fmt: skip
    events = inputs.events.select("at_utc", "until_utc", "kind", "amount").iter_rows()
    makers = {"insulin": _insulin, "food": _food, "activity": _activity}
    records += [(at, kind, makers[kind](at, until, amount, zone)) for at, until, kind, amount in events
                if kind in makers]  # fmt: skip
    records.sort(key=lambda record: (record[0], record[1]))
    named = [{"resourceType": one.pop("resourceType"), "id": _name(f"{at} {kind}")} | one for at, kind, one in records]
    return "".join(_compact(one) + "\n" for one in named)


def _given(at: datetime, source: Source, amount: float, unit: str, zone: ZoneInfo) -> dict[str, Any]:
    """Glucose as an amount of something whose strength stands beside it."""
    piece = unit == "piece"
    counted = ("{tablet}", "tablet") if piece else ("mL", "mL")
    strength = {
        "numerator": _quantity(source.grams_per_piece or source.grams_per_ml or 0.0, "g", "g"),
        "denominator": _quantity(1, *counted),
    }
    glucose = {"coding": [{"system": _SNOMED, "code": "67079006"}]}
    medication = {
        "resourceType": "Medication",
        "id": "m",
        "code": {"text": f"glucose {'tablets' if piece else 'liquid'}"},
        "ingredient": [{"itemCodeableConcept": glucose, "isActive": True, "strength": strength}],
    }
    return {
        "resourceType": "MedicationAdministration",
        "contained": [medication],
        "status": "completed",
        "medicationReference": {"reference": "#m"},
        "subject": {"reference": SUBJECT},
        "effectiveDateTime": _local(at, zone),
        "dosage": {"dose": _quantity(amount, *counted)},
    }


def _insulin(at: datetime, _until: datetime | None, units: float, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "resourceType": "MedicationAdministration",
        "status": "completed",
        "medicationCodeableConcept": {"coding": [{"system": _SNOMED, "code": "411531001"}]},
        "subject": {"reference": SUBJECT},
        "effectiveDateTime": _local(at, zone),
        "dosage": {"dose": _quantity(units, "[iU]", "IU")},
    }


def _food(at: datetime, _until: datetime | None, grams: float, zone: ZoneInfo) -> dict[str, Any]:
    return _observation("9059-7", at, zone) | {"valueQuantity": _quantity(grams, "g", "g")}


def _activity(at: datetime, until: datetime | None, _amount: float | None, zone: ZoneInfo) -> dict[str, Any]:
    record = _observation("55409-7", at, zone)
    if until is not None:
        del record["effectiveDateTime"]
        record["effectivePeriod"] = {"start": _local(at, zone), "end": _local(until, zone)}
    return record


def _observation(code: str, at: datetime, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "resourceType": "Observation",
        "status": "final",
        "code": {"coding": [{"system": _LOINC, "code": code}]},
        "subject": {"reference": SUBJECT},
        "effectiveDateTime": _local(at, zone),
    }


def _weights(inputs: Inputs) -> str:
    zone = inputs.person.zone_now()
    points = [_weight(on, kg, zone) for on, kg in inputs.person.weights_kg.entries]
    return "[\n" + ",\n".join(map(_compact, points)) + "\n]\n"


def _weight(on: date, kg: float, zone: ZoneInfo) -> dict[str, Any]:
    at = datetime(on.year, on.month, on.day, 7, 30, tzinfo=zone)
    return {
        "header": {
            "uuid": _name(f"weight {on}"),
            "schema_id": {"namespace": "omh", "name": "body-weight", "version": "3.0"},
            "source_creation_date_time": at.isoformat(),
            "modality": "self-reported",
        },
        "body": {
            "body_weight": {"value": round(kg, 1), "unit": "kg"},
            "effective_time_frame": {"date_time": at.isoformat()},
        },
    }


def _quantity(value: float, code: str, unit: str) -> dict[str, Any]:
    return {
        "value": int(value) if value == int(value) else round(value, 4),
        "unit": unit,
        "system": _UCUM,
        "code": code,
    }


def _name(text: str) -> str:
    return str(uuid.uuid5(_NAMES, text))


def _local(at: datetime, zone: ZoneInfo) -> str:
    return at.astimezone(zone).isoformat(timespec="seconds")


def _utc(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _compact(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
