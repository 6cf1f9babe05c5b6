"""Promises of the readers of open standards: one truth gives one state; no input a traceback or a silent loss."""

import json
import random
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gramrise.domain.person import Dated, Person
from gramrise.domain.problems import GramriseError
from gramrise.intake import read_file
from gramrise.nightly import take_in_file
from gramrise.store import Store

NOW = datetime(2026, 1, 1, tzinfo=UTC)
START = datetime(2025, 11, 1, 21, 3, tzinfo=UTC)  # over the night in which New York puts its clocks back
ZONE = ZoneInfo("America/New_York")
PERSON = Person("ada", date(2015, 1, 1), Dated(((date(2015, 1, 1), ZONE),)))
UCUM, SNOMED, LOINC = "http://unitsofmeasure.org", "http://snomed.info/sct", "http://loinc.org"
OWN = Path(__file__).parents[2] / "outside" / "standards"
FRAMES = ("readings", "fingers", "doses", "events", "weights")
quick = settings(
    max_examples=20, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip


def local(at):
    return at.astimezone(ZONE).isoformat(timespec="seconds")


def truth(seed):
    rng = random.Random(seed)
    readings = [(START + timedelta(minutes=5 * n), rng.randint(40, 300)) for n in range(120)]
    doses = [(START + timedelta(minutes=37 * n + 1), rng.choice([4.0, 6.5, 8.0])) for n in range(9)]
    insulin = [(START + timedelta(minutes=61 * n + 2), rng.choice([0.5, 1.0, 2.25])) for n in range(6)]
    return readings, doses, insulin, [(START.astimezone(ZONE), 31.4)]


def as_tables(told):
    readings, doses, insulin, weights = told
    return {
        "r.csv": "time,glucose (mg/dL)\n" + "".join(f"{local(at)},{value}\n" for at, value in readings),
        "g.csv": "time,grams\n" + "".join(f"{local(at)},{grams}\n" for at, grams in doses),
        "i.csv": "time,units\n" + "".join(f"{local(at)},{units}\n" for at, units in insulin),
        "w.csv": "time,kg\n" + "".join(f"{at.date()},{kg}\n" for at, kg in weights),
    }


def observation(code, at, value, unit):
    return {
        "resourceType": "Observation",
        "status": "final",
        "code": {"coding": [{"system": LOINC, "code": code}]},
        "subject": {"reference": "Patient/77"},
        "effectiveDateTime": local(at),
        "valueQuantity": {"value": value, "unit": unit, "system": UCUM, "code": unit},
    }


def administration(code, at, value, unit):
    return {
        "resourceType": "MedicationAdministration",
        "status": "completed",
        "medicationCodeableConcept": {"coding": [{"system": SNOMED, "code": code}]},
        "subject": {"reference": "Patient/77"},
        "effectiveDateTime": local(at),
        "dosage": {"dose": {"value": value, "unit": unit, "system": UCUM, "code": unit}},
    }


def as_fhir(told):
    readings, doses, insulin, weights = told
    records = [observation("99504-3", at, value, "mg/dL") for at, value in readings]
    records += [administration("67079006", at, grams, "g") for at, grams in doses]
    records += [administration("411531001", at, units, "[iU]") for at, units in insulin]
    records += [observation("29463-7", at, kg, "kg") for at, kg in weights]
    for number, record in enumerate(records):
        record["id"] = f"x{number}"
    entries = [{"resource": record} for record in records]
    return {"all.json": json.dumps({"resourceType": "Bundle", "type": "collection", "entry": entries})}


def point(number, schema, version, body):
    made = {"uuid": f"u{number}", "source_creation_date_time": local(START)}
    return {"header": made | {"schema_id": {"namespace": "omh", "name": schema, "version": version}}, "body": body}


def as_data_points(told):
    readings, doses, insulin, weights = told

    def dose(name, at, value, unit):
        body = {"medication": {"generic_name": name}, "dose": {"value": value, "unit": unit}}
        return "single-medication-dose-taken", "1.0", body | frame(at)

    def frame(at):
        return {"effective_time_frame": {"date_time": local(at)}}

    bodies = [("blood-glucose", "4.0", {"blood_glucose": {"value": value, "unit": "mg/dL"},
                                        "specimen_source": "interstitial fluid"} | frame(at))
              for at, value in readings]  # fmt: skip
    bodies += [dose("glucose", at, grams, "g") for at, grams in doses]
    bodies += [dose("insulin", at, units, "IU") for at, units in insulin]
    bodies += [("body-weight", "3.0", {"body_weight": {"value": kg, "unit": "kg"}} | frame(at)) for at, kg in weights]
    lines = [json.dumps(point(number, *one)) for number, one in enumerate(bodies)]
    return {"all.ndjson": "\n".join(lines) + "\n"}


def state(folder, files):
    folder.mkdir()
    with Store.open(folder / "home") as store:
        store.save_person(PERSON)
        for name, text in files.items():
            (folder / name).write_text(text, "utf-8")
            taken = take_in_file(store, folder / "home", PERSON, folder / name, NOW)
            assert not taken.quarantine
        inputs = store.inputs("ada")
        frames = {name: getattr(inputs, name) for name in ("readings", "doses", "events")}
        return frames | {"weights": store.person("ada").weights_kg.entries}


@pytest.mark.parametrize("seed", range(3))
def test_one_truth_as_tables_fhir_and_data_points_ends_in_one_stored_state(tmp_path, seed):
    told = truth(seed)
    tables = state(tmp_path / "tables", as_tables(told))
    assert tables["readings"].height == 120
    assert tables["doses"].height == 9
    for name, files in (("fhir", as_fhir(told)), ("points", as_data_points(told))):
        other = state(tmp_path / name, files)
        for frame in ("readings", "events"):
            assert other[frame].equals(tables[frame]), (name, frame)
        assert other["doses"].drop("form").equals(tables["doses"].drop("form")), name
        assert other["weights"] == tables["weights"]


def seeds():
    """Texts to damage: every small example of our own, as text."""
    found = sorted([*OWN.glob("*/own/**/*.json"), *OWN.glob("*/own/**/*.ndjson")])
    return [path.read_bytes().decode("utf-8-sig") for path in found if path.stat().st_size < 4000]


def parses(text):
    try:
        json.loads(text)
    except ValueError:
        return False
    return True


SEEDS = seeds()
WHOLE = [text for text in SEEDS if parses(text)]
ODD = [None, "", "x", [], {}, 0, -1, 1e308, 10**40, True, "NaN", "\ud800", "2024-02-30", "9999-12-31T23:59:59-14:00",
       "0001-01-01T00:00:00+14:00", [None], {"a": {}}, [[[]]], "\x00", "<", 1e-320]  # fmt: skip


def read_accounted(path):
    """How many batches of a file are records. Trouble is told in words, and every entry offered is found again."""
    records = 0
    try:
        batches = read_file(path, PERSON, now_utc=NOW, layout_name=None)
    except GramriseError as told:
        batches, sentence = (), str(told)
    else:
        sentence = "To mend"
    assert "To mend" in sentence
    for batch in batches:
        kept = sum(getattr(batch, name).height for name in FRAMES)
        if batch.layout in {"fhir-r4", "open-mhealth"}:
            records += 1
            found = kept + len(batch.quarantine) + batch.rows_repeated + batch.rows_passed_over
            assert found == batch.rows_offered
    return records


def damaged(value, rng):
    """A value with one thing in it replaced, taken out, doubled or renamed."""
    places = []

    def walk(inner):
        if isinstance(inner, dict):
            places.extend((inner, key) for key in inner)
            for one in inner.values():
                walk(one)
        elif isinstance(inner, list):
            places.extend((inner, at) for at in range(len(inner)))
            for one in inner:
                walk(one)

    walk(value)
    if not places:
        return value
    holder, key = rng.choice(places)
    what = rng.randrange(5)
    if what == 0:
        holder[key] = rng.choice(ODD)
    elif what == 1:
        del holder[key]
    elif what == 2 and isinstance(holder, dict):
        holder[f"{key}x"] = holder.pop(key)
    elif what == 3 and isinstance(holder, list):
        holder.append(holder[key])
    else:
        other, place = rng.choice(places)
        holder[key] = json.loads(json.dumps(other[place])) if place in range(len(other)) or place in other else 1
    return value


def test_damaged_records_are_told_in_words_and_nothing_is_lost(tmp_path):
    read = []

    @quick
    @given(st.integers(0, 10**9))
    def check(seed):
        rng = random.Random(seed)
        for _ in range(20):
            value = json.loads(rng.choice(WHOLE))
            for _ in range(rng.randint(1, 3)):
                value = damaged(value, rng)
            path = tmp_path / rng.choice(["x.json", "x.ndjson"])
            path.write_text(json.dumps(value), "utf-8")
            read.append(read_accounted(path))

    check()
    assert sum(read) > 60


def test_damaged_bytes_are_told_in_words_and_nothing_is_lost(tmp_path):
    read = []

    @quick
    @given(st.integers(0, 10**9))
    def check(seed):
        rng = random.Random(seed)
        for _ in range(20):
            data = bytearray(rng.choice(SEEDS).encode())
            for _ in range(rng.randint(1, 4)):
                at = rng.randrange(len(data))
                data[at : at + rng.randint(0, 3)] = bytes(
                    rng.choices(b'{}[]",:0x\\u\n\xff\x00e+-', k=rng.randint(0, 3))
                )
            path = tmp_path / "x.ndjson"
            path.write_bytes(bytes(data))
            read.append(read_accounted(path))

    check()
    assert sum(read) > 30
