"""The bundle: every record told once and told apart, bounds never as numbers, our codes never as a standard's."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from uuid import UUID

import polars as pl
import pytest
from support.report_people import HOSTILE, NOW, a_week, person

from gramrise.connectors.fhir import OWN_FINDINGS
from gramrise.report.fhir.bundle import fhir_bundle
from gramrise.report.fhir.found import LOW_BELOW
from gramrise.report.fhir.vocabulary import CONCEPTS

HOME = "0123456789abcdef"
LATER = NOW + timedelta(hours=3)


def _bundle(inputs, findings, household=HOME, days=28, now=LATER):
    return json.loads(fhir_bundle(inputs, findings, household=household, now_utc=now, days=days))


@pytest.fixture(scope="module")
def week():
    return _bundle(*a_week())


def _of(bundle, kind, code=""):
    found = [entry["resource"] for entry in bundle["entry"] if entry["resource"]["resourceType"] == kind]
    return [one for one in found if not code or _code(one) == code]


def _code(resource):
    return resource.get("code", {}).get("coding", [{}])[0].get("code")


def _part(resource, code):
    return next(part for part in resource["component"] if _code(part) == code)


def test_every_reading_and_every_amount_given_is_in_it(week):
    inputs, found = a_week()
    assert len(_of(week, "Observation", "99504-3")) == inputs.readings.height
    assert len(_of(week, "MedicationAdministration")) == inputs.doses.height
    assert len(_of(week, "Observation", "low-episode")) == found.lows.height
    assert len(_of(week, "Observation", "rise-factor")) == 2


def test_a_number_carries_its_90_percent_interval_its_band_and_its_treatments_and_is_preliminary(week):
    day = next(one for one in _of(week, "Observation", "rise-factor") if "daytime" in one["text"]["div"])
    assert day["status"] == "preliminary"
    assert day["valueQuantity"] == {
        "value": 7.1, "unit": "mg/dL per g", "system": "http://unitsofmeasure.org", "code": "mg/dL/g",
    }  # fmt: skip
    ends = _part(day, "credible-interval-90")["valueRange"]
    assert (ends["low"]["value"], ends["high"]["value"]) == (5.6, 8.8)
    assert _part(day, "treatment-count")["valueInteger"] == 14
    assert _part(day, "time-band")["valueCodeableConcept"]["text"] == "daytime 07:00-22:00 Europe/Berlin"
    assert "no instruction how much to give" in day["note"][0]["text"]


def test_a_low_stands_on_its_readings_and_beside_the_glucose_given_for_it(week):
    low = _of(week, "Observation", "low-episode")[0]
    names = {entry["fullUrl"]: entry["resource"] for entry in week["entry"]}
    assert len(low["derivedFrom"]) == 7  # 35 minutes of readings every 5
    assert {names[one["reference"]]["resourceType"] for one in low["derivedFrom"]} == {"Observation"}
    assert [names[one["reference"]]["resourceType"] for one in low["partOf"]] == ["MedicationAdministration"]
    assert _part(low, "threshold")["valueQuantity"]["value"] == LOW_BELOW == 70
    assert _part(low, "treatment-grams")["valueQuantity"]["value"] == 5.52


def test_pieces_go_out_with_the_strength_of_one_so_that_a_clinic_can_tell_the_grams(week):
    given = _of(week, "MedicationAdministration")[0]
    assert given["dosage"]["dose"]["value"] == 6
    strength = given["contained"][0]["ingredient"][0]["strength"]
    assert (strength["numerator"]["value"], strength["denominator"]["value"]) == (5.52, 6)
    assert "5.52 g of glucose" in given["note"][0]["text"]


def test_a_reading_beyond_the_sensors_range_is_a_bound_and_never_a_plain_number():
    inputs, found = a_week(low_hours=())
    below = pl.when(pl.int_range(pl.len()) == 7).then(pl.lit("below")).otherwise(pl.col("range"))
    bundle = _bundle(replace(inputs, readings=inputs.readings.with_columns(range=below)), found)
    told = [one["valueQuantity"].get("comparator") for one in _of(bundle, "Observation", "99504-3")]
    assert told.count("<") == 1
    assert told.count(None) == inputs.readings.height - 1


def test_every_time_of_an_event_has_seconds_and_the_persons_offset(week):
    told = [one["effectiveDateTime"] for one in _of(week, "MedicationAdministration")]
    assert len(told) == 4
    assert {text[-6:] for text in told} == {"+01:00"}
    assert all(datetime.fromisoformat(text).utcoffset() == timedelta(hours=1) for text in told)
    assert week["timestamp"] == LATER.astimezone(UTC).isoformat().replace("+00:00", "Z")


def test_every_name_is_told_once_and_every_reference_is_to_something_in_the_bundle(week):
    names = [entry["fullUrl"] for entry in week["entry"]]
    assert len(set(names)) == len(names) > 1900
    assert {str(UUID(name.removeprefix("urn:uuid:"))) for name in names} == {name[9:] for name in names}
    references = set(_references(week)) - {"#given"}
    assert len(references) > 30
    assert references <= set(names)


def _references(value):
    if isinstance(value, dict):
        if isinstance(value.get("reference"), str):
            yield value["reference"]
        for each in value.values():
            yield from _references(each)
    elif isinstance(value, list):
        for each in value:
            yield from _references(each)


def test_the_same_bundle_an_hour_later_asks_the_server_to_create_nothing_new():
    week = a_week()
    first, second = _bundle(*week), _bundle(*week, now=LATER + timedelta(hours=1))
    assert [entry["request"] for entry in first["entry"]] == [entry["request"] for entry in second["entry"]]
    assert {entry["request"]["method"] for entry in first["entry"]} == {"POST", "PUT"}
    posted = [entry["request"] for entry in first["entry"] if entry["request"]["method"] == "POST"]
    assert all(request["ifNoneExist"] for request in posted)


def test_two_households_with_a_child_of_the_same_name_share_no_record():
    week = a_week()
    here, there = (_bundle(*week, household=home) for home in (HOME, "fedcba9876543210"))
    own = [{entry["fullUrl"] for entry in bundle["entry"]} for bundle in (here, there)]
    assert len(own[0]) == len(own[1])
    assert own[0] & own[1] == set()


def test_only_readings_and_glucose_carry_codes_of_terminologies(week):
    systems = {coding["system"]: set() for coding in _codings(week) if coding["system"].startswith("http")}
    for coding in _codings(week):
        if coding["system"] in systems:
            systems[coding["system"]].add(coding["code"])
    assert systems == {
        "http://loinc.org": {"99504-3"},
        "http://snomed.info/sct": {"67079006"},
        "http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation": {"L"},
    }
    ours = {coding["code"] for coding in _codings(week) if coding["system"] == OWN_FINDINGS}
    assert ours <= set(CONCEPTS)
    assert len(ours) >= 8


def _codings(value):
    if isinstance(value, dict):
        yield from value.get("coding", [])
        for each in value.values():
            yield from _codings(each)
    elif isinstance(value, list):
        for each in value:
            yield from _codings(each)


def test_a_number_rests_by_its_provenance_on_the_treatments_that_were_used():
    inputs, found = a_week()
    bundle = _bundle(inputs, found)
    overnight = _of(bundle, "Provenance")
    used = found.pairings.filter(pl.col("verdict") == "used", pl.col("band") == "overnight")
    assert [len(one["entity"]) for one in overnight] == [used.height]
    assert used.height == 3


def test_a_band_without_a_number_says_why_instead_of_a_value():
    inputs, found = a_week()
    none = {
        name: pl.lit(None, pl.Float64)
        for name in ("factor_mg_dl_per_g", "p05_factor_mg_dl_per_g", "p95_factor_mg_dl_per_g")
    }
    bundle = _bundle(inputs, replace(found, factors=found.factors.with_columns(**none)))
    numbers = _of(bundle, "Observation", "rise-factor")
    assert ["valueQuantity" in one for one in numbers] == [False, False]
    assert [one["dataAbsentReason"]["text"] for one in numbers] == ["no body weight is known"] * 2


def test_a_name_that_is_markup_stays_text():
    bundle = _bundle(*a_week(person(name=HOSTILE)))
    assert _of(bundle, "Patient")[0]["name"] == [{"text": HOSTILE}]
    told = [one["text"]["div"] for one in _of(bundle, "Observation", "low-episode")]
    assert len(told) == 5
    assert not any("<script" in text for text in told)


def test_what_is_older_than_the_days_asked_for_stays_at_home():
    inputs, found = a_week()
    bundle = _bundle(inputs, found, days=2)
    since = found.as_of_utc - timedelta(days=2)
    assert len(_of(bundle, "Observation", "99504-3")) == inputs.readings.filter(pl.col("at_utc") >= since).height
    assert len(_of(bundle, "Observation", "low-episode")) == found.lows.filter(pl.col("start_utc") >= since).height == 1
