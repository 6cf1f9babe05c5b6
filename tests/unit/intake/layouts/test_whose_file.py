"""A table that names somebody by name or birth date who cannot be this person waits, wherever that other one lives."""

import io
import json
from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import openpyxl
import pytest
from support.variants import NOW

from gramrise.connectors.shelf import load_layouts
from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.intake import FileWaits, read_file

SINCE = date(2016, 4, 2)
CANDY = Source("candy", Form.TABLET, grams_per_piece=3, stated_as=StatedAs.ANHYDROUS,
               other_names=("Stück", "Traubenzucker", "Dextro", "tablet"))  # fmt: skip
MIRA = Person("mira", SINCE, Dated(((SINCE, ZoneInfo("Europe/Berlin")),)), name="Mira Beispiel", language="de",
              sources=Dated(((SINCE, (CANDY,)),)))  # fmt: skip
ROWS = "Datum;Uhrzeit;Was;Menge\n13.03.2026;02:10;Traubenzucker;2\n14.03.2026;02:40;Traubenzucker;1\n"
TRACE = "Zeit;Sensor mmol/l\n13.03.2026 02:00;5,1\n13.03.2026 02:05;5,2\n13.03.2026 02:10;5,0\n"


def read(tmp_path, data, name="log.csv", person=MIRA, **how):
    path = tmp_path / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_file(path, person, now_utc=NOW, **how)


def waits(tmp_path, data, name="log.csv", person=MIRA):
    with pytest.raises(FileWaits) as why:
        read(tmp_path, data, name, person)
    assert why.value.code == "other_person"
    return str(why.value)


@pytest.mark.parametrize(
    "line",
    [
        "Name: Tom",
        "name: tom",
        "Kind: Tom",
        "Patient;Tom;;",
        "Patient: Tom Muster",
        "Patient name: Tom Muster (7)",
        "Name;Tom\nGeboren;01.01.2019",
        "geb. 01.01.2019",
        "born 2019-01-01",
        "Date of birth: 01/02/2019",
        "Protokoll Tom",
        "Traubenzuckerprotokoll Tom",
        "Glucose log Tom",
        "Traubenzucker von Tom",
        "Export für Tom Muster",
        "Glucose log for Tom, March 2026",
        "Tom, 7 Jahre",
        "# Tom, 7 years old",
        "Vorname: Tom\nNachname: Muster",
        "Toms Protokoll",
        "Glucose Log - Tom Muster",
        "Für Tom",
        "Tom Muster *01.01.2019",
        "Date of birth: Jan 1, 2019",
        "Bruder von Mira",
        "Mira's sister",
        "Brother of Mira Beispiel",
        "Name: T. Beispiel",
        "Name: Tom Beispiel",
        "First name,Tom",
        "First name;Last name\nTom;Muster",
        "Sohn: Tom",
        "Daughter: Lena",
        "Wearer: Tom",
        "Participant: Tom",
        "Tom's readings",
        "childName: Tom",
    ],
)
@pytest.mark.parametrize("table", [ROWS, TRACE])
def test_a_line_above_that_names_somebody_else_makes_the_file_wait(line, table, tmp_path):
    told = waits(tmp_path, f"{line}\n{table}")
    assert "Mira Beispiel" in told
    assert "gramrise person set mira" in told


@pytest.mark.parametrize(
    "line",
    [
        "Name: Mira",
        "Kind: Mira Muster",
        "Name: Beispiel, Mira",
        "Miras Protokoll",
        "Mira's readings",
        "Today's readings",
        "Name: M. Beispiel",
        "Name: Mira T. Beispiel",
        "Tochter: Mira",
        "First name;Last name\nMira;Beispiel",
        "Export name: Wochenwerte",
        "displayName: Mira",
        "Account owner: Anna Beispiel",
        "Kinder",
        "Protokoll Mira",
        "Traubenzucker von Mira",
        "Mira, 9 Jahre",
        "geb. 02.04.2016",
        "Name: Mimi\ngeb. 02.04.2016",
        "Vorname: Mira\nNachname: Muster",
        "Patient: 1001",
        "Patient: P1",
        "Name: Glukoseprotokoll",
        "Gerät: Dexterra 7",
        "Device name: Meterix Two",
        "User: Anna Muster",
        "App: GlucoLog Version 3.2",
        "Seriennummer: 3MH00A1BCDE",
        "Export für Klinik",
        "Protokoll Papa",
        "Liste von Mama",
        "Bericht für Frau Müller",
        "Glucose Log Summary",
        "Blood Glucose Log Book",
        "Tagebuch für Diabetiker",
        "Protokoll Klassenfahrt",
        "Tagesliste Freitag",
        "Bericht für Diabetesambulanz",
        "Patient Diabetes Report",
        "*13.03.2026 Sensorwechsel",
        "Sensor glucose export",
        "Export vom 15.03.2026",
        "Erstellt am: 15.03.2026 10:15",
        "Time zone: Europe/Berlin",
        "Alle Werte in mmol/L",
    ],
)
def test_a_line_above_that_is_this_persons_or_names_nobody_is_read(line, tmp_path):
    (batch,) = read(tmp_path, f"{line}\n{ROWS}")
    assert batch.doses["grams"].to_list() == [6.0, 3.0]


@pytest.mark.parametrize(("stated", "written"), [("Jürgen", "Juergen"), ("Zoë", "Zoe"), ("Anna-Lena", "Lena")])
def test_two_spellings_of_a_name_are_one(stated, written, tmp_path):
    (batch,) = read(tmp_path, f"Name: {written}\n{ROWS}", person=replace(MIRA, person_id="j1", name=stated))
    assert batch.doses.height == 2


def test_a_person_called_child_has_no_stated_name(tmp_path):
    (batch,) = read(tmp_path, f"Name: Tom\n{ROWS}", person=replace(MIRA, person_id="child", name=""))
    assert batch.doses.height == 2


def test_without_a_stated_name_no_name_is_judged_but_a_birth_date_is(tmp_path):
    nobody = replace(MIRA, person_id="1", name="")
    (batch,) = read(tmp_path, f"Name: Tom\n{ROWS}", person=nobody)
    assert batch.doses.height == 2
    waits(tmp_path, f"Name: Tom\ngeb. 01.01.2019\n{ROWS}", person=nobody)


@pytest.mark.parametrize("header", ["Kind", "Wer", "Name", "Person", "patient", "child", "who", "gegeben an"])
def test_a_column_that_names_only_another_child_makes_the_file_wait(header, tmp_path):
    told = waits(tmp_path, f"Datum;Uhrzeit;{header};Was;Menge\n13.03.2026;02:10;Tom;Traubenzucker;2\n"
                           "14.03.2026;02:40;Tom;Traubenzucker;1\n")  # fmt: skip
    assert f"column '{header}' names 'Tom'" in told


@pytest.mark.parametrize("header", ["Kind", "Wer", "Name", "Person", "patient", "child", "who", "gegeben an"])
@pytest.mark.parametrize("name", ["Mira", "Mira B.", "BEISPIEL, MIRA"])
def test_a_column_that_names_this_person_is_read(header, name, tmp_path):
    (batch,) = read(tmp_path, f"Datum;Uhrzeit;{header};Was;Menge\n13.03.2026;02:10;{name};Traubenzucker;2\n"
                              f"14.03.2026;02:40;{name};Traubenzucker;1\n")  # fmt: skip
    assert batch.doses["grams"].to_list() == [6.0, 3.0]


@pytest.mark.parametrize("who", ["Papa", "Mum", "teacher", "Oma", "nurse", "school", "Lehrerin"])
@pytest.mark.parametrize("header", ["Wer", "who", "given by", "bemerkt von"])
def test_who_gave_it_or_noticed_is_no_owner_of_the_file(who, header, tmp_path):
    (batch,) = read(tmp_path, f"Datum;Uhrzeit;{header};Was;Menge\n13.03.2026;02:10;{who};Traubenzucker;2\n"
                              f"14.03.2026;02:40;{who};Traubenzucker;1\n")  # fmt: skip
    assert batch.doses["grams"].to_list() == [6.0, 3.0]


@pytest.mark.parametrize(("header", "cell"), [("Name", "Dextro"), ("User", "Anna"), ("Patient", "1001"), ("Name", "")])
def test_a_source_an_account_or_a_number_is_no_other_person(header, cell, tmp_path):
    (batch,) = read(tmp_path, f"Time;{header};Sensor mmol/l\n"
                    + "".join(f"13.03.2026 02:{at:02d};{cell};5,1\n" for at in (0, 5, 10)))  # fmt: skip
    assert batch.readings.height == 3


def test_two_children_it_was_given_to_are_asked_about(tmp_path):
    with pytest.raises(FileWaits) as why:
        read(tmp_path, "Datum;Uhrzeit;gegeben an;Was;Menge\n13.03.2026;02:10;M;Traubenzucker;2\n"
                       "14.03.2026;02:40;T;Traubenzucker;1\n")  # fmt: skip
    assert why.value.code == "several_persons"


def test_readings_of_another_in_a_column_of_names_or_birth_dates_wait(tmp_path):
    waits(tmp_path, "Name;Time;Sensor mmol/l\n" + "".join(f"Tom;13.03.2026 02:{at:02d};5,1\n" for at in (0, 5, 10)))
    waits(tmp_path, "Geburtsdatum;Zeit;Sensor mmol/l\n"
                    + "".join(f"01.01.2019;13.03.2026 02:{at:02d};5,1\n" for at in (0, 5, 10)))  # fmt: skip


def reading(minute, **more):
    return {**more, "time": f"2026-03-13T02:{minute:02d}:00+01:00", "glucose": 54 + minute, "unit": "mg/dL",
            "device": "sensor"}  # fmt: skip


GIVEN = {"time": "2026-03-13T02:10:00+01:00", "source": "candy", "amount": "2 pieces"}


@pytest.mark.parametrize(
    "whole",
    [
        [reading(at, patient="Tom") for at in (0, 5, 10)],
        [reading(at, patient={"name": "Tom", "born": "2019-01-01"}) for at in (0, 5, 10)],
        {"patient": {"name": "Tom", "born": "2019-01-01"}, "readings": [reading(at) for at in (0, 5, 10)]},
        {"patient": {"birthDate": "2019-01-01"}, "readings": [reading(at) for at in (0, 5, 10)]},
        {"child": {"id": 7, "firstName": "Tom"}, "readings": [reading(at) for at in (0, 5, 10)]},
        {"patientName": "Tom", "readings": [reading(at) for at in (0, 5, 10)]},
        {"fullName": "Tom Muster", "readings": [reading(at) for at in (0, 5, 10)]},
        {"displayName": "Tom", "readings": [reading(at) for at in (0, 5, 10)]},
        {"wearer": "Tom", "readings": [reading(at) for at in (0, 5, 10)]},
        {"metadata": {"subject": "Tom"}, "readings": [reading(at) for at in (0, 5, 10)]},
        {"export": {"patient": {"name": "Tom"}}, "readings": [reading(at) for at in (0, 5, 10)]},
        {"patients": ["Tom"], "readings": [reading(at) for at in (0, 5, 10)]},
        [reading(at, wearer="Tom") for at in (0, 5, 10)],
        [reading(at, childName="Tom") for at in (0, 5, 10)],
        [{**GIVEN, "who": "Tom"}],
        [{**GIVEN, "patient": "Tom von Berg"}],
        {"tom": [GIVEN]},
    ],
)
def test_json_of_another_person_waits(whole, tmp_path):
    waits(tmp_path, json.dumps(whole), "t.json")


@pytest.mark.parametrize(
    "whole",
    [
        [reading(at, patient="mira") for at in (0, 5, 10)],
        {"patient": {"name": "Mimi", "born": "2016-04-02"}, "readings": [reading(at) for at in (0, 5, 10)]},
        {"mira": [reading(at) for at in (0, 5, 10)]},
        {"name": "sgv entries", "entries": [reading(at) for at in (0, 5, 10)]},
        {"user": {"name": "Anna"}, "entries": [reading(at) for at in (0, 5, 10)]},
        [reading(at, name="sgv") for at in (0, 5, 10)],
        {"patients": ["Mira"], "readings": [reading(at) for at in (0, 5, 10)]},
        {"export": {"name": "wochenauszug"}, "readings": [reading(at) for at in (0, 5, 10)]},
        {"account": {"fullName": "Anna Muster"}, "readings": [reading(at) for at in (0, 5, 10)]},
        {"owner": "Anna Muster", "readings": [reading(at) for at in (0, 5, 10)]},
        {"payload": [reading(at) for at in (0, 5, 10)]},
        {"sgv": [reading(at) for at in (0, 5, 10)]},
        {"glucoseEntries": [reading(at) for at in (0, 5, 10)]},
    ],
)
def test_json_of_this_person_or_of_nobody_named_is_read(whole, tmp_path):
    (batch,) = read(tmp_path, json.dumps(whole), "t.json")
    assert batch.readings["glucose_mg_dl"].to_list() == [54.0, 59.0, 64.0]


@pytest.mark.parametrize(("title", "lands"), [("Traubenzuckerprotokoll Tom", False), ("Traubenzuckerprotokoll", True)])
def test_a_title_of_a_workbook_that_names_another_child_makes_it_wait(title, lands, tmp_path):
    book = openpyxl.Workbook()
    sheet = book.active
    for row in ([title], [], ["Datum", "Uhrzeit", "Was", "Menge"], ["13.03.2026", "02:10", "Traubenzucker", 2],
                ["14.03.2026", "02:40", "Traubenzucker", 1]):  # fmt: skip
        sheet.append(row)
    data = io.BytesIO()
    book.save(data)
    if lands:
        assert read(tmp_path, data.getvalue(), "log.xlsx")[0].doses.height == 2
    else:
        waits(tmp_path, data.getvalue(), "log.xlsx")


def test_a_layout_that_names_the_line_says_whose_it_is(tmp_path):
    known = next(one for one in load_layouts(None) if one.name == "glucose-given")
    proof = known.recognised_by.model_copy(update={"preamble": ("Name: Tom",)})
    kept = known.model_copy(update={"name": "ours", "recognised_by": proof})
    rows = "Name: Tom\ntime,source,amount\n2026-03-13 02:10,candy,2\n"
    (batch,) = read(tmp_path, rows, layouts=(kept,))
    assert batch.doses["grams"].to_list() == [6.0]


def test_a_named_layout_is_the_word_of_whoever_brings_the_file(tmp_path):
    rows = "time,source,amount\n2026-03-13 02:10,candy,2\n"
    waits(tmp_path, f"Name: Tom\n{rows}")
    (batch,) = read(tmp_path, f"Name: Tom\n{rows}", layout_name="glucose-given")
    assert batch.doses["grams"].to_list() == [6.0]
