"""Files of records of open standards in the store: none takes out what another brought, and each owner is told."""

import json
from dataclasses import replace as changed
from datetime import UTC, datetime, timedelta

import pytest
from support.nightly_home import child

from gramrise.intake import FileWaits
from gramrise.nightly.ingest import means_of, take_in_file
from gramrise.store import Store

NOW = datetime(2026, 3, 9, 8, tzinfo=UTC)
UCUM = "http://unitsofmeasure.org"


def at(day, minutes):
    return f"{datetime(2026, 3, day, tzinfo=UTC) + timedelta(minutes=minutes):%Y-%m-%dT%H:%M:%SZ}"


def reading(name, when, mg_dl):
    return {
        "resourceType": "Observation", "id": name, "status": "final", "subject": {"reference": "Patient/ada"},
        "code": {"coding": [{"system": "http://loinc.org", "code": "99504-3"}]}, "effectiveDateTime": when,
        "valueQuantity": {"value": mg_dl, "unit": "mg/dL", "system": UCUM, "code": "mg/dL"},
    }  # fmt: skip


def given(name, when, grams):
    return {
        "resourceType": "MedicationAdministration", "id": name, "status": "completed", "effectiveDateTime": when,
        "medicationCodeableConcept": {"text": "tin"}, "subject": {"reference": "Patient/ada"},
        "dosage": {"dose": {"value": grams, "unit": "g"}},
    }  # fmt: skip


def readings_of(day):
    return [reading(str(n + 1), at(day, 5 * n), 100 + n % 40) for n in range(50)]


def doses_of(day):
    return [given(f"d{n}", at(day, 100 * n), 3 + n) for n in range(5)]


@pytest.fixture
def home(tmp_path):
    with Store.open(tmp_path / "home") as store:
        store.save_person(child("ada"))
        yield store, tmp_path


def taken(home, records, numbered_anew=(), who="ada", **how):
    store, folder = home
    file = folder / "records.json"
    entries = [{"resource": one} for one in records]
    file.write_text(json.dumps({"resourceType": "Bundle", "type": "collection", "entry": entries}), "utf-8")
    means = means_of(folder / "home")()
    settings = means.settings.model_copy(update={"numbered_anew": tuple(numbered_anew)})
    said = changed(means, settings=settings)
    return take_in_file(store, folder / "home", store.person(who), file, NOW, means=lambda: said, **how)


def kept(home):
    inputs = home[0].inputs("ada")
    return inputs.readings.height, inputs.doses.height


@pytest.mark.parametrize("records", [readings_of, doses_of])
def test_a_file_whose_ids_stand_for_other_times_than_before_waits_and_takes_nothing_out(home, records):
    taken(home, records(1))
    before = kept(home)
    with pytest.raises(FileWaits, match="numbered anew in every file") as held:
        taken(home, records(2))
    assert held.value.code == "records_renumbered"
    assert kept(home) == before


def test_where_it_is_stated_that_records_are_numbered_anew_every_night_is_kept(home):
    for day in (1, 2, 3):
        taken(home, [*readings_of(day), *doses_of(day)], ["ada"])
    assert kept(home) == (150, 15)


def test_a_sender_that_moved_all_its_records_is_followed_when_the_family_says_so_and_the_rows_are_counted(home):
    taken(home, doses_of(1))
    told = taken(home, [given(f"d{n}", at(1, 100 * n + 7), 3 + n) for n in range(5)], replace=True)
    assert kept(home) == (0, 5)
    assert "Taken out, as newer versions of their records do not state them: 5 rows." in told.remarks


def test_one_record_whose_time_was_mended_replaces_the_one_of_before_and_that_is_told(home):
    taken(home, doses_of(1))
    told = taken(home, [*doses_of(1)[:4], given("d4", at(1, 410), 7)])
    assert kept(home) == (0, 5)
    assert told.remarks[-1] == "Taken out, as newer versions of their records do not state them: 1 row."


@pytest.mark.parametrize("record", [reading, given])
def test_many_records_of_one_id_are_set_aside_by_name_and_none_is_called_an_older_version(home, record):
    others = [reading(f"r{n}", at(3, 5 * n), 120) for n in range(4)]
    told = taken(home, [*others, *(record("x", at(1, 30 * n), 20 + n) for n in range(12))])
    assert kept(home) == (4, 0)
    assert [one.trouble.code for one in told.quarantine] == ["id_of_several"] * 12
    assert told.remarks == []


@pytest.mark.parametrize("record", [reading, given])
def test_of_two_versions_in_one_file_the_later_counts_once_whether_its_name_is_a_code_or_a_word(home, record):
    told = taken(home, [record("x", at(1, 30), 20), record("x", at(1, 40), 21)])
    assert sum(kept(home)) == 1
    assert told.remarks == ["Passed over: 1 x an older version of a record that stands in the file again."]


@pytest.mark.parametrize("brought_for", ["ada", "ben", "cem"])
def test_a_file_with_records_of_two_children_names_both_and_says_of_none_that_it_was_taken_in(home, brought_for):
    for name in ("ben", "cem"):
        home[0].save_person(child(name))
    records = readings_of(1)
    records[3]["subject"] = {"reference": "Patient/ben"}
    with pytest.raises(FileWaits, match=f"its records are of 'ada' and 'ben', and it was brought for '{brought_for}'"):
        taken(home, records, who=brought_for)
    assert [home[0].inputs(name).readings.height for name in ("ada", "ben", "cem")] == [0, 0, 0]
    taken(home, records, who=brought_for, replace=True)
    assert [home[0].inputs(name).readings.height for name in ("ada", "ben", "cem")] == [49, 1, 0]
