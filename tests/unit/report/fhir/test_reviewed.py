"""Sign-offs and drift as records: final only where accepted, in error where taken back, drift on both numbers."""

import json
from datetime import timedelta

import pytest
from support.fhir_cases import drift_frame, signed_reference
from support.report_people import NOW, a_week

from gramrise.report.fhir.bundle import fhir_bundle


def _bundle(signed, drift=None, now=NOW + timedelta(hours=1)):
    inputs, found = a_week()
    told = fhir_bundle(inputs, found, household="ab", now_utc=now, days=1, signed=signed, drift=drift)
    return json.loads(told)["entry"]


def _coded(entries, code, status=None):
    found = [
        entry
        for entry in entries
        if entry["resource"].get("code", {}).get("coding", [{}])[0].get("code") == code
        and (status is None or entry["resource"]["status"] == status)
    ]
    return [(entry["fullUrl"], entry["resource"], entry["request"]) for entry in found]


def _part(resource, code):
    return next(part for part in resource["component"] if part["code"]["coding"][0]["code"] == code)


def test_an_accepted_number_is_final_and_names_who_signed_without_claiming_proof():
    ((_, signed, request),) = _coded(_bundle([(signed_reference(), ())]), "rise-factor", "final")
    assert signed["performer"] == [{"display": "Dr. A. Example (diabetologist)"}]
    assert signed["valueQuantity"]["value"] == 9.3
    assert _part(signed, "reference-valid-until")["valueDateTime"] == "2027-05-17"
    notes = [note["text"] for note in signed["note"]]
    assert "The name was typed and is no authentication." in notes
    assert "again in spring" in notes
    assert request["method"] == "PUT"
    assert request["url"].startswith("Observation?identifier=urn:ietf:rfc:3986|urn:uuid:")


@pytest.mark.parametrize(
    ("changed", "ended", "status"),
    [
        ({"verdict": "seen_not_accepted"}, (), "preliminary"),
        ({}, ("withdrawn",), "entered-in-error"),
        ({}, ("expired",), "final"),
    ],
)
def test_what_was_not_accepted_is_no_final_number_and_what_was_taken_back_is_in_error(changed, ended, status):
    entries = _bundle([(signed_reference(**changed), ended)])
    signed = [resource for _, resource, _ in _coded(entries, "rise-factor") if "performer" in resource]
    assert [one["status"] for one in signed] == [status]


def test_drift_is_preliminary_and_stands_on_the_signed_and_on_the_present_number():
    entries = _bundle([(signed_reference(), ())], drift_frame())
    ((_, drift, _),) = _coded(entries, "drift")
    ((signed_name, _, _),) = _coded(entries, "rise-factor", "final")
    present = [
        name for name, one, _ in _coded(entries, "rise-factor", "preliminary") if "daytime" in one["text"]["div"]
    ]
    assert [one["reference"] for one in drift["derivedFrom"]] == [signed_name, *present]
    assert drift["status"] == "preliminary"
    assert drift["valueQuantity"] == {"value": 0.76, "unit": "1", "system": "http://unitsofmeasure.org", "code": "1"}
    assert _part(drift, "growth-ratio")["valueQuantity"]["value"] == 0.94
    assert _part(drift, "probability-moved")["valueQuantity"]["value"] == 0.97
    assert _part(drift, "reference-date")["valueDateTime"] == "2026-11-17"


def test_drift_against_a_sign_off_that_was_taken_back_is_not_told():
    assert _coded(_bundle([(signed_reference(), ("withdrawn",))], drift_frame()), "drift") == []


def test_a_ratio_that_cannot_be_told_is_absent_and_no_number():
    ((_, drift, _),) = _coded(
        _bundle([(signed_reference(), ())], drift_frame(ratio=None, ratio_p05=None, ratio_p95=None, growth_ratio=None)),
        "drift",
    )
    assert "valueQuantity" not in drift
    assert drift["dataAbsentReason"]["text"] == "no body weight is known"


def test_a_sign_off_keeps_its_identity_and_each_has_its_own():
    first = _bundle([(signed_reference(), ())])
    later = _bundle([(signed_reference(2), ()), (signed_reference(), ("withdrawn",))], now=NOW + timedelta(days=3))
    signed = [[name for name, one, _ in _coded(each, "rise-factor") if "performer" in one] for each in (first, later)]
    assert len(set(signed[1])) == 2
    assert signed[0][0] in signed[1]
