"""Files of open standards the whole way: each record to its own person, nothing guessed, everything counted."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from gramrise.domain.person import Dated, Person
from gramrise.intake import FileRefused, FileWaits, load_settings, read_batches, read_file, recognise

NOW = datetime(2026, 1, 1, tzinfo=UTC)
START = datetime(2025, 3, 1, 12, tzinfo=UTC)
LOINC, UCUM = "http://loinc.org", "http://unitsofmeasure.org"
FRAMES = ("readings", "fingers", "doses", "events", "weights")


def child(name):
    return Person(name, date(2015, 1, 1), Dated(((date(2015, 1, 1), ZoneInfo("Europe/Berlin")),)))


ADA, BEN = child("ada"), child("ben")


def stamp(minutes):
    return (START + timedelta(minutes=minutes)).strftime("%Y-%m-%dT%H:%M:%SZ")


def reading(minutes, mg_dl, subject="ada", code="99504-3", **more):
    unit = "mmol/L" if code == "14745-4" else "mg/dL"
    record = {
        "resourceType": "Observation",
        "id": f"r{minutes}",
        "status": "final",
        "code": {"coding": [{"system": LOINC, "code": code}]},
        "effectiveDateTime": stamp(minutes),
        "valueQuantity": {"value": mg_dl, "unit": unit, "system": UCUM, "code": unit},
    }
    if subject:
        record["subject"] = {"reference": f"Patient/{subject}"}
    return record | more


def point(minutes, mg_dl, specimen="interstitial fluid"):
    body = {
        "blood_glucose": {"value": mg_dl, "unit": "mg/dL"},
        "effective_time_frame": {"date_time": stamp(minutes)},
    }
    if specimen:
        body["specimen_source"] = specimen
    schema = {"namespace": "omh", "name": "blood-glucose", "version": "4.0"}
    header = {"uuid": f"u{minutes}", "schema_id": schema, "source_creation_date_time": stamp(minutes)}
    return {"header": header, "body": body}


def read(tmp_path, records, person=ADA, name="x.json", **how):
    path = tmp_path / name
    path.write_text(records if isinstance(records, str) else json.dumps(records), "utf-8")
    return read_file(path, person, now_utc=NOW, **how)


def counted(batch):
    kept = sum(getattr(batch, name).height for name in FRAMES)
    return kept + len(batch.quarantine) + batch.rows_repeated + batch.rows_passed_over


def test_readings_of_two_children_go_to_each_their_own(tmp_path):
    records = [reading(0, 90), reading(0, 190, "ben"), reading(5, 95), reading(5, 195, "ben")]
    batches = read(tmp_path, records, household=(ADA, BEN))
    values = {batch.person_id: batch.readings["glucose_mg_dl"].to_list() for batch in batches}
    assert values == {"ada": [90.0, 95.0], "ben": [190.0, 195.0]}
    assert len({batch.content_hash for batch in batches}) == 2


def test_a_second_child_nobody_here_knows_holds_the_file(tmp_path):
    for strangers in (("ada", "x7"), ("x7", "x8")):
        with pytest.raises(FileWaits, match="several persons") as held:
            read(tmp_path, [reading(n, 90, who) for n, who in enumerate(strangers)], household=(ADA, BEN))
        assert "x7" in str(held.value)


def test_a_name_that_the_household_has_stated_is_that_persons(tmp_path):
    settings = load_settings().model_copy(update={"subjects": {"x7": "ada", "Patient/x8": "ben"}})
    records = [reading(0, 90, "x7"), reading(0, 190, "x8")]
    batches = read(tmp_path, records, household=(ADA, BEN), settings=settings)
    assert {batch.person_id: batch.readings["glucose_mg_dl"][0] for batch in batches} == {"ada": 90.0, "ben": 190.0}


def test_one_persons_file_goes_to_whom_it_is_brought_for_unless_it_names_another_of_the_household(tmp_path):
    (batch,) = read(tmp_path, [reading(0, 90, "some-number")], household=(ADA, BEN))
    assert (batch.person_id, batch.readings.height) == ("ada", 1)
    with pytest.raises(FileWaits) as held:
        read(tmp_path, [reading(0, 90, "ben")], household=(ADA, BEN))
    assert held.value.code == "other_person"


def points_of(*users):
    points = [point(at, 90 + at) for at in range(len(users))]
    for one, user in zip(points, users, strict=True):
        one["header"]["user_id"] = user
    return points


def test_data_points_of_two_children_go_to_each_their_own(tmp_path):
    batches = read(tmp_path, points_of("ada", "ben"), household=(ADA, BEN))
    values = {batch.person_id: batch.readings["glucose_mg_dl"].to_list() for batch in batches}
    assert values == {"ada": [90.0], "ben": [91.0]}


@pytest.mark.parametrize("users", [("ada", "x7"), ("x7", "x8"), (7, 8)])
def test_data_points_of_several_users_are_never_all_one_childs(users, tmp_path):
    with pytest.raises(FileWaits) as held:
        read(tmp_path, points_of(*users), household=(ADA, BEN))
    assert held.value.code == "several_persons"


@pytest.mark.parametrize("user", ["ben", "Ben", "Benjamin"])
def test_a_user_who_is_another_of_the_household_holds_the_data_points(user, tmp_path):
    named = replace(BEN, name="Benjamin Muster")
    with pytest.raises(FileWaits) as held:
        read(tmp_path, points_of(user), household=(ADA, named))
    assert held.value.code == "other_person"


@pytest.mark.parametrize("user", ["ada", "anna@muster.example", "0f8e2c", 17, None, {"id": 3}])
def test_one_user_who_is_nobody_else_here_is_whom_the_file_is_brought_for(user, tmp_path):
    (batch,) = read(tmp_path, points_of(user), household=(ADA, BEN))
    assert (batch.person_id, batch.readings.height) == ("ada", 1)


def test_records_that_name_nobody_beside_two_who_are_named_hold_the_file(tmp_path):
    with pytest.raises(FileWaits) as held:
        read(tmp_path, [reading(0, 90), reading(5, 95, "ben"), reading(9, 99, "")], household=(ADA, BEN))
    assert held.value.code == "subject_missing"


def test_glucose_of_body_fluid_is_a_sensors_only_where_it_is_dense(tmp_path):
    dense = [reading(5 * n, 5.5, code="14745-4") for n in range(12)]
    (batch,) = read(tmp_path, dense)
    assert batch.readings.height == 12
    for few in (dense[:11], [reading(60 * n, 5.5, code="14745-4") for n in range(12)]):
        with pytest.raises(FileWaits) as held:
            read(tmp_path, few)
        assert held.value.code == "glucose_of_what"
        (named,) = read(tmp_path, few, layout_name="fhir-r4-finger")
        assert (named.readings.height, named.fingers.height) == (0, len(few))


def test_glucose_without_a_specimen_waits_for_one_word_for_the_whole_file(tmp_path):
    records = [point(5 * n, 90 + n, "") for n in range(300)]
    with pytest.raises(FileWaits) as held:
        read(tmp_path, records)
    assert held.value.lines == ("--layout open-mhealth-sensor", "--layout open-mhealth-finger")
    (batch,) = read(tmp_path, records, layout_name="open-mhealth-sensor")
    assert batch.readings.height == 300


def test_two_values_for_one_instant_keep_the_first_and_set_the_other_aside(tmp_path):
    (batch,) = read(tmp_path, [reading(0, 90), reading(0, 91, id="other"), reading(0, 90, id="same")])
    assert batch.readings["glucose_mg_dl"].to_list() == [90.0]
    assert [held.trouble.code for held in batch.quarantine] == ["two_values"]
    assert (batch.rows_repeated, counted(batch)) == (1, batch.rows_offered)


def test_what_is_passed_over_is_named(tmp_path):
    heart = reading(0, 90, code="8867-4")
    heart["code"]["coding"][0]["display"] = "Heart rate"
    (batch,) = read(tmp_path, [heart, reading(5, 95)])
    assert batch.remarks == ("Passed over: 1 x an Observation of another kind (Heart rate).",)
    assert counted(batch) == batch.rows_offered == 2


def test_glucose_under_an_unknown_code_is_set_aside_not_passed_over(tmp_path):
    urine = reading(0, 90, code="5792-7")
    urine["code"]["coding"][0]["display"] = "Glucose [Mass/volume] in Urine by Test strip"
    (batch,) = read(tmp_path, [urine])
    assert [held.trouble.code for held in batch.quarantine] == ["glucose_code_unknown"]


def test_long_acting_and_basal_insulin_are_named_and_not_counted_as_given_at_once(tmp_path):
    def insulin(minutes, code, **dosage):
        return {
            "resourceType": "MedicationAdministration",
            "status": "completed",
            "medicationCodeableConcept": {"coding": [{"system": "http://snomed.info/sct", "code": code}]},
            "effectiveDateTime": stamp(minutes),
            "dosage": {"dose": {"value": 4, "system": UCUM, "code": "[iU]"}} | dosage,
        }

    rate = {"value": 1, "system": UCUM, "code": "[iU]/h"}
    (batch,) = read(
        tmp_path, [insulin(0, "411529005"), insulin(5, "67866001", rateQuantity=rate), insulin(9, "67866001")]
    )
    assert batch.events.select("kind", "amount").rows() == [("insulin", 4.0)]
    assert len(batch.remarks) == 2
    assert counted(batch) == batch.rows_offered == 3


def test_pieces_without_a_strength_are_asked_about_and_never_guessed(tmp_path):
    record = {
        "resourceType": "MedicationAdministration",
        "status": "completed",
        "medicationCodeableConcept": {"coding": [{"system": "http://snomed.info/sct", "code": "67079006"}]},
        "effectiveDateTime": stamp(0),
        "dosage": {"dose": {"value": 3, "unit": "tablet", "system": UCUM, "code": "{tablet}"}},
    }
    (batch,) = read(tmp_path, record)
    assert batch.doses["grams"].to_list() == [None]
    assert batch.doses["amount"].to_list() == [3.0]
    assert len(batch.questions) == 1


def test_a_document_of_another_kind_is_refused_in_words(tmp_path):
    for kind in ("document", "message", "batch-response", "nonsense"):
        with pytest.raises(FileRefused) as refused:
            read(tmp_path, {"resourceType": "Bundle", "type": kind, "entry": [{"resource": reading(0, 90)}]})
        assert refused.value.code == "bundle_type"


def test_implausible_values_and_times_are_set_aside_with_their_line(tmp_path):
    lines = [reading(0, 9000), reading(5, 90, effectiveDateTime="2031-01-01T00:00:00Z"), reading(10, 90)]
    (batch,) = read(tmp_path, "\n".join(map(json.dumps, lines)), name="x.ndjson")
    assert [(held.trouble.code, held.trouble.row) for held in batch.quarantine] == [
        ("glucose_implausible", 1),
        ("time_out_of_range", 2),
    ]


def test_a_file_cut_into_blocks_gives_what_it_gives_whole(tmp_path):
    lines = [json.dumps(reading(5 * n, 70 + n % 90)) for n in range(2000)]
    lines[500] = lines[500][:40]
    path = tmp_path / "bulk.ndjson"
    path.write_text("\n".join(lines), "utf-8")
    settings = load_settings()
    small = settings.model_copy(update={"careful_bytes": 1000, "block_bytes": 50_000})
    pieces = list(read_batches(path, ADA, now_utc=NOW, settings=small))
    (whole,) = read_file(path, ADA, now_utc=NOW, settings=settings)
    assert len(pieces) > 5
    assert len({batch.content_hash for batch in pieces}) == len(pieces)
    together = sorted(row for batch in pieces for row in batch.readings.rows())
    assert together == sorted(whole.readings.rows())
    assert [held.trouble.row for batch in pieces for held in batch.quarantine] == [501]


def test_layouts_says_what_stands_in_a_file_of_records(tmp_path):
    path = tmp_path / "x.json"
    path.write_text(json.dumps([reading(0, 90), reading(5, 95)]))
    seen = recognise(path, replace(ADA), now_utc=NOW)
    assert seen.certain
    assert "read by layout 'fhir-r4'" in seen.text
    assert "it brings reading: 2 x" in seen.text
