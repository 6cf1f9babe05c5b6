"""Records of open standards over several files: corrected, moved, taken back, and brought in the wrong order."""

import json
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from gramrise.domain.person import Dated, Person
from gramrise.nightly import take_in_file
from gramrise.store import Store

NOW = datetime(2026, 1, 1, tzinfo=UTC)
START = datetime(2025, 3, 1, 12, tzinfo=UTC)
UCUM = "http://unitsofmeasure.org"


@pytest.fixture
def home(tmp_path):
    with Store.open(tmp_path / "home") as store:
        store.save_person(Person("ada", date(2015, 1, 1), Dated(((date(2015, 1, 1), ZoneInfo("Europe/Berlin")),))))
        yield store, tmp_path


def stamp(minutes):
    return (START + timedelta(minutes=minutes)).strftime("%Y-%m-%dT%H:%M:%SZ")


def reading(name, minutes, mg_dl, made=0, status="final"):
    return {
        "resourceType": "Observation",
        "id": name,
        "meta": {"lastUpdated": stamp(1000 + made)},
        "status": status,
        "code": {"coding": [{"system": "http://loinc.org", "code": "99504-3"}]},
        "subject": {"reference": "Patient/7"},
        "effectiveDateTime": stamp(minutes),
        "valueQuantity": {"value": mg_dl, "system": UCUM, "code": "mg/dL"},
    }


def bring(home, *records, name="x.json"):
    store, folder = home
    file = folder / name
    file.write_text(json.dumps(list(records)), "utf-8")
    return take_in_file(store, folder / "home", store.person("ada"), file, NOW)


def stored(home):
    frame = home[0].inputs("ada").readings
    return [(int((at - START).total_seconds() / 60), value) for at, value in frame.select(
        "at_utc", "glucose_mg_dl").iter_rows()]  # fmt: skip


def test_an_entry_made_in_error_takes_back_what_an_earlier_file_brought(home):
    bring(home, reading("r1", 0, 90), reading("r2", 5, 95))
    bring(home, reading("r1", 0, 90, 5, "entered-in-error"))
    assert stored(home) == [(5, 95.0)]


def test_what_was_taken_back_does_not_come_again_from_an_older_file(home):
    bring(home, reading("r1", 0, 90, 5, "entered-in-error"))
    told = bring(home, reading("r1", 0, 90), reading("r2", 5, 95))
    assert stored(home) == [(5, 95.0)]
    assert [summary.already_known for summary in told.summaries] == [1]


def test_a_record_that_is_corrected_to_another_time_moves(home):
    bring(home, reading("r1", 0, 90), reading("r2", 5, 95))
    bring(home, reading("r1", 30, 91, 9))
    assert stored(home) == [(5, 95.0), (30, 91.0)]


def test_an_older_version_that_comes_later_changes_nothing(home):
    bring(home, reading("r1", 30, 91, 9))
    bring(home, reading("r1", 0, 90))
    assert stored(home) == [(30, 91.0)]


def test_a_deletion_by_its_address_takes_back_the_one_record_it_can_mean(home):
    bring(home, reading("r1", 0, 90), reading("r2", 5, 95))
    store, folder = home
    file = folder / "deleted.ndjson"
    request = {"method": "DELETE", "url": "Observation/r2"}
    file.write_text(json.dumps({"resourceType": "Bundle", "type": "transaction", "entry": [{"request": request}]}))
    take_in_file(store, folder / "home", store.person("ada"), file, NOW)
    assert stored(home) == [(0, 90.0)]


def test_taking_an_import_back_brings_back_what_it_had_taken_out(home):
    bring(home, reading("r1", 0, 90), reading("r2", 5, 95))
    bring(home, reading("r1", 0, 90, 5, "entered-in-error"))
    home[0].take_back(home[0].imports("ada")[-1]["import_id"])
    assert stored(home) == [(0, 90.0), (5, 95.0)]


def test_a_familys_own_table_is_not_the_senders_to_take_back(home):
    store, folder = home
    table = folder / "own.csv"
    table.write_text(f"time,glucose (mg/dL)\n{stamp(0)},90\n{stamp(10)},99\n")
    take_in_file(store, folder / "home", store.person("ada"), table, NOW)
    bring(home, reading("r1", 0, 90))
    bring(home, reading("r1", 0, 90, 5, "entered-in-error"))
    assert stored(home) == [(0, 90.0), (10, 99.0)]


def test_the_same_records_twice_change_nothing(home):
    records = [reading(f"r{n}", 5 * n, 80 + n) for n in range(30)]
    bring(home, *records)
    before = stored(home)
    again = bring(home, *records, reading("late", 500, 100))
    assert stored(home) == [*before, (500, 100.0)]
    assert [(one.added, one.corrected) for one in again.summaries] == [(1, 0)]
