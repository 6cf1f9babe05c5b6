"""What the words of FHIR records say: whose they are, what the family calls a source, and that they do not count."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.intake import FileWaits, load_settings, read_batches, read_file

NOW = datetime(2026, 6, 1, tzinfo=UTC)
SINCE = date(2016, 4, 2)
LOINC, UCUM = "http://loinc.org", "http://unitsofmeasure.org"
CANDY = Source("candy", Form.TABLET, grams_per_piece=3, stated_as=StatedAs.ANHYDROUS,
               other_names=("tablet", "dextrose tablet"))  # fmt: skip
BOTTLE = Source("night bottle", Form.LIQUID, grams_per_ml=0.25)
MIRA = Person("mira", SINCE, Dated(((SINCE, ZoneInfo("America/Chicago")),)), name="Mira",
              sources=Dated(((SINCE, (CANDY, BOTTLE)),)))  # fmt: skip
TOM = {"resourceType": "Patient", "id": "tom", "name": [{"given": ["Tom"], "family": "Muster"}],
       "birthDate": "2019-01-01"}  # fmt: skip


def reading(minute, whose="Patient/tom", **more):
    record = {
        "resourceType": "Observation",
        "id": f"r{minute}",
        "status": "final",
        "code": {"coding": [{"system": LOINC, "code": "99504-3"}]},
        "effectiveDateTime": f"2026-03-20T02:{minute:02d}:00-06:00",
        "valueQuantity": {"value": 54, "unit": "mg/dL", "system": UCUM, "code": "mg/dL"},
    }
    return record | ({"subject": {"reference": whose}} if whose else {}) | more


def given(value=2, unit="pieces", words="candy", **more):
    dose = {"value": value, "unit": unit} if unit else None
    return {
        "resourceType": "MedicationAdministration",
        "id": "m1",
        "status": "completed",
        "medicationCodeableConcept": {"text": words},
        "effectiveDateTime": "2026-03-20T02:00:00-06:00",
        **({"dosage": {"dose": dose}} if dose else {}),
    } | more


def read(tmp_path, *resources, person=MIRA, **how):
    path = tmp_path / "x.json"
    bundle = {"resourceType": "Bundle", "type": "collection", "entry": [{"resource": one} for one in resources]}
    path.write_text(json.dumps(bundle), "utf-8")
    return read_file(path, person, now_utc=NOW, **how)


def aside(batch):
    return [(one.trouble.code, one.trouble.found) for one in batch.quarantine]


def accounted(batch):
    kept = sum(getattr(batch, name).height for name in ("readings", "fingers", "doses", "events", "weights"))
    return kept + len(batch.quarantine) + batch.rows_repeated + batch.rows_passed_over == batch.rows_offered


@pytest.mark.parametrize(
    "resources",
    [
        (TOM, reading(0), reading(5)),
        ({**TOM, "birthDate": "2019"}, reading(0)),
        ({"resourceType": "Patient", "id": "tom", "birthDate": "2019-01-01"}, reading(0)),
        ({"resourceType": "Patient", "id": "7", "name": [{"text": "Tom"}]}, reading(0, "Patient/7")),
        (TOM, reading(0, "")),
        (reading(0, "", subject={"display": "Tom Muster"}),),
        (reading(0, "Patient/7", subject={"reference": "Patient/7", "display": "Tom Muster"}),),
        (reading(0, "#p", contained=[{**TOM, "id": "p"}]),),
    ],
)
def test_records_of_a_patient_who_cannot_be_this_person_wait(resources, tmp_path):
    with pytest.raises(FileWaits) as why:
        read(tmp_path, *resources)
    assert why.value.code == "other_person"
    assert "Mira" in str(why.value)


@pytest.mark.parametrize(
    "patient",
    [
        {**TOM, "birthDate": "2016-04-02"},
        {**TOM, "name": [{"given": ["Mira", "Sofie"], "family": "Muster"}]},
        {"resourceType": "Patient", "id": "tom", "name": [{"text": "MUSTER, MIRA"}]},
        {"resourceType": "Patient", "id": "tom", "birthDate": "2016-04"},
        {"resourceType": "Patient", "id": "tom", "name": [{"text": "Patient 1001"}]},
        {"resourceType": "Patient", "id": "tom"},
    ],
)
def test_a_patient_who_may_be_this_person_is_read(patient, tmp_path):
    (batch,) = read(tmp_path, patient, reading(0), reading(5))
    assert batch.readings.height == 2


def test_without_a_stated_name_only_the_birth_date_tells(tmp_path):
    nobody = replace(MIRA, person_id="1", name="")
    assert read(tmp_path, {**TOM, "birthDate": "2016-04-02"}, reading(0), person=nobody)[0].readings.height == 1
    with pytest.raises(FileWaits, match="2019-01-01"):
        read(tmp_path, TOM, reading(0), person=nobody)


def test_a_stated_subject_is_the_word_of_the_household(tmp_path):
    settings = load_settings(None).model_copy(update={"subjects": {"tom": "mira"}})
    (batch,) = read(tmp_path, TOM, reading(0), settings=settings)
    assert batch.readings.height == 1


def test_a_long_file_of_a_record_a_line_of_another_patient_waits(tmp_path):
    path = tmp_path / "long.ndjson"
    path.write_text("".join(json.dumps(one) + "\n" for one in (TOM, *(reading(at) for at in range(60)))), "utf-8")
    settings = load_settings(None).model_copy(update={"careful_bytes": 100, "block_bytes": 20_000})
    with pytest.raises(FileWaits) as why:
        list(read_batches(path, MIRA, now_utc=NOW, settings=settings))
    assert why.value.code == "other_person"


@pytest.mark.parametrize(
    ("value", "unit", "words", "grams"),
    [
        (2, "pieces", "candy", 6.0),
        (2, "tablets", "Tablet", 6.0),
        (2, "tablets", "dextrose tablet", 6.0),
        (6, "g", "candy", 6.0),
        (20, "mL", "night bottle", 5.0),
    ],
)
def test_a_medication_by_the_name_of_a_source_is_a_dose_of_it(value, unit, words, grams, tmp_path):
    (batch,) = read(tmp_path, given(value, unit, words))
    assert batch.doses["grams"].to_list() == [grams]
    assert batch.doses["source"].to_list() == ["night bottle" if unit == "mL" else "candy"]
    assert batch.events.height == 0
    assert accounted(batch)


def test_a_medication_by_name_under_an_unknown_code_is_a_dose_too(tmp_path):
    concept = {"text": "candy", "coding": [{"system": "urn:own", "code": "17"}]}
    (batch,) = read(tmp_path, given(medicationCodeableConcept=concept))
    assert batch.doses["grams"].to_list() == [6.0]


@pytest.mark.parametrize(
    ("resource", "code"),
    [
        (given(unit=""), "no_amount"),
        (given(2, "cups"), "unit_unknown"),
        (given(status="in-progress"), "dose_not_sure"),
        (given(0), "amount_not_positive"),
        (given(note=[{"text": "entered by mistake"}]), "note_denies"),
        (given(note=[{"text": "spat out"}]), "note_denies"),
        (given(note=[{"text": "only half eaten"}]), "note_denies"),
    ],
)
def test_a_source_by_name_that_cannot_be_counted_is_set_aside_with_its_reason(resource, code, tmp_path):
    (batch,) = read(tmp_path, resource, reading(0, ""))
    assert [found for found, _ in aside(batch)] == [code]
    assert (batch.doses.height, batch.events.height, batch.readings.height) == (0, 0, 1)
    assert accounted(batch)


def test_a_dose_with_a_plain_note_counts(tmp_path):
    (batch,) = read(tmp_path, given(note=[{"text": "felt low, given by Mum"}]))
    assert batch.doses["grams"].to_list() == [6.0]


def test_another_medication_stays_a_note_and_one_not_taken_is_passed_over(tmp_path):
    (batch,) = read(tmp_path, given(words="Ibuprofen", value=5, unit="mL"))
    assert batch.events["text"].to_list() == ["Ibuprofen"]
    (batch,) = read(tmp_path, given(status="not-done"), reading(0, ""))
    assert (batch.doses.height, batch.events.height, batch.quarantine) == (0, 0, ())


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"status": "preliminary"}, "not_final"),
        ({"note": [{"text": "compression, wrong"}]}, "note_denies"),
        ({"note": [{"text": "all fine"}, {"text": "Fehlmessung"}]}, "note_denies"),
        ({"note": [{"text": "control solution"}]}, "note_denies"),
        ({"status": "preliminary", "note": [{"text": "compression, wrong"}]}, "note_denies"),
    ],
)
def test_an_observation_that_is_preliminary_or_denied_by_its_note_is_set_aside(more, code, tmp_path):
    (batch,) = read(tmp_path, reading(0, "", **more), reading(5, ""))
    assert [found for found, _ in aside(batch)] == [code]
    assert batch.readings.height == 1
    assert accounted(batch)
    assert batch.source_records.height == 1


def displayed(minute, *names):
    subject = {"reference": "Patient/1"}
    return [
        reading(minute + at, subject=subject | ({"display": name} if name else {})) for at, name in enumerate(names)
    ]


@pytest.mark.parametrize("names", [("Mira", "Tom"), ("Tom", "Mira"), ("Mira", "Mira", "", "Tom Muster")])
def test_one_reference_that_shows_two_names_waits(names, tmp_path):
    with pytest.raises(FileWaits) as why:
        read(tmp_path, *displayed(0, *names))
    assert why.value.code == "several_persons"
    assert "Tom" in str(why.value)


@pytest.mark.parametrize("names", [("Mira", "Mira"), ("Mira", ""), ("Muster, Mira", "Mira"), ("Mira", "Patient 7")])
def test_one_reference_that_shows_one_name_is_read(names, tmp_path):
    (batch,) = read(tmp_path, *displayed(0, *names))
    assert batch.readings.height == 2


@pytest.mark.parametrize(
    ("note", "code"),
    [
        ("for his sister Tom", "another_person"),
        ("for Ben", "another_person"),
        ("Plan", "note_denies"),
        ("sum of the day", "note_denies"),
    ],
)
def test_glucose_given_whose_note_names_another_a_plan_or_a_sum_is_set_aside(note, code, tmp_path):
    (batch,) = read(tmp_path, given(note=[{"text": note}]), reading(0, ""))
    assert [found for found, _ in aside(batch)] == [code]
    assert (batch.doses.height, batch.readings.height) == (0, 1)
    assert accounted(batch)


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"note": [{"text": "value of his brother Tom"}]}, "another_person"),
        ({"note": [{"text": "Wert von der Schwester"}]}, "another_person"),
        ({"interpretation": [{"text": "invalid"}]}, "note_denies"),
    ],
)
def test_a_reading_whose_note_says_that_it_is_anothers_or_invalid_is_set_aside(more, code, tmp_path):
    (batch,) = read(tmp_path, reading(0, "", **more), reading(5, ""))
    assert [found for found, _ in aside(batch)] == [code]
    assert batch.readings.height == 1


@pytest.mark.parametrize("words", ["Low", "High", "Normal", "played with her brother", "as planned with Mum"])
def test_how_a_reading_is_interpreted_and_who_else_was_there_changes_nothing(words, tmp_path):
    more = {"note": [{"text": words}], "interpretation": [{"text": words}]}
    (batch,) = read(tmp_path, reading(0, "", **more), reading(5, ""))
    assert batch.readings.height == 2


@pytest.mark.parametrize("note", ["checked twice", "after dinner", "woke up, felt wrong-footed", "sensor day 3"])
def test_a_note_that_says_nothing_against_it_changes_nothing(note, tmp_path):
    (batch,) = read(tmp_path, reading(0, "", note=[{"text": note}]))
    assert batch.readings.height == 1


def test_a_preliminary_series_is_set_aside_whole(tmp_path):
    series = {"origin": {"value": 0, "unit": "mg/dL", "system": UCUM, "code": "mg/dL"}, "period": 300000,
              "dimensions": 1, "data": "100 101 E 103"}  # fmt: skip
    one = reading(0, "", status="preliminary", valueSampledData=series)
    del one["valueQuantity"], one["effectiveDateTime"]
    one["effectivePeriod"] = {"start": "2026-03-20T02:00:00-06:00", "end": "2026-03-20T02:15:00-06:00"}
    (batch,) = read(tmp_path, one, reading(30, ""))
    assert batch.readings.height == 1
    assert [code for code, _ in aside(batch)] == ["not_final"]
    assert accounted(batch)
