"""Tables of two persons in one file wait, also where only a number, a letter or a heading row tells them apart."""

import io
import json
from dataclasses import replace

import openpyxl
import pytest
from support.variants import NOW, PERSON

from gramrise.intake import FileWaits, read_file

HEADER = "Time,Sensor glucose (mg/dL)\n"


def read(tmp_path, text: str, name: str):
    path = tmp_path / name
    path.write_text(text, "utf-8")
    return read_file(path, PERSON, now_utc=NOW)


def trace(base: int, month: str = "03") -> list[dict[str, object]]:
    return [
        {"time": f"2026-{month}-13T17:{minute:02d}", "sensor glucose (mg/dL)": base + minute}
        for minute in range(0, 60, 5)
    ]


def lines(day: int) -> str:
    return "".join(f"2026-03-{day} 17:{minute:02d},{100 + minute}\n" for minute in range(0, 60, 5))


@pytest.mark.parametrize(
    ("one", "other"),
    [("Child 1", "Child 2"), ("Patient 1", "Patient 2"), ("Kind1", "Kind2"), ("A", "B")],
)
def test_tables_named_as_two_persons_wait(one, other, tmp_path):
    with pytest.raises(FileWaits) as why:
        read(tmp_path, json.dumps({one: trace(100), other: trace(130)}), "t.json")
    assert why.value.code == "several_persons"


@pytest.mark.parametrize("name", ["Sister", "brother", "predictions", "Mittelwerte Prognose"])
def test_a_table_named_as_a_relatives_or_as_a_forecast_waits(name, tmp_path):
    with pytest.raises(FileWaits) as why:
        read(tmp_path, json.dumps({name: trace(100)}), "t.json")
    assert why.value.code == "of_another"


@pytest.mark.parametrize(("one", "other"), [("a", "b"), ("Child 1 March", "Child 1 April"), ("part 1", "part 2")])
def test_parts_of_one_export_are_read(one, other, tmp_path):
    batches = read(tmp_path, json.dumps({one: trace(100), other: trace(130, "04")}), "t.json")
    assert [batch.readings.height for batch in batches] == [12, 12]


@pytest.mark.parametrize(
    "keyed",
    [
        lambda one, other: {"users": {"17": one, "18": other}},
        lambda one, other: {"users": {"17": {"readings": one}, "18": {"readings": other}}},
        lambda one, other: {"p1": one, "p2": other},
        lambda one, other: {"1": one, "2": other},
        lambda one, other: {"u_8f3a": one, "u_77c0": other},
    ],
)
@pytest.mark.parametrize("month", ["03", "04"])
def test_two_ids_in_one_json_that_each_hold_readings_wait(keyed, month, tmp_path):
    with pytest.raises(FileWaits) as why:
        read(tmp_path, json.dumps(keyed(trace(100), trace(130, month))), "t.json")
    assert why.value.code == "several_persons"


@pytest.mark.parametrize(
    "keyed",
    [
        lambda one, other: {"2025": one, "2026": other},
        lambda one, other: {"2026-03": one, "2026-04": other},
        lambda one, other: {"pages": {"1": one, "2": other}},
        lambda one, other: {"week1": one, "week2": other},
        lambda one, other: {"March": one, "April": other},
        lambda one, other: {"readings": one, "entries": other},
        lambda one, other: {"17": one, "entries": other},
    ],
)
def test_parts_of_one_json_by_known_words_years_and_days_are_one_persons(keyed, tmp_path):
    batches = read(tmp_path, json.dumps(keyed(trace(100), trace(130, "04"))), "t.json")
    assert [batch.readings.height for batch in batches] == [12, 12]


def workbook(*sheets: str) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for at, name in enumerate(sheets):
        sheet = book.create_sheet(name)
        sheet.append(["Time", "Sensor glucose (mg/dL)"])
        for one in trace(100 + 30 * at, f"0{3 + at}"):
            sheet.append(list(one.values()))
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


def read_sheets(tmp_path, *sheets: str):
    path = tmp_path / "t.xlsx"
    path.write_bytes(workbook(*sheets))
    return read_file(path, replace(PERSON, name="Mira Beispiel"), now_utc=NOW)


@pytest.mark.parametrize("sheets", [("Sheet", "Tom"), ("Tom", "Blatt1"), ("Messwerte", "Tom Beispielmann")])
def test_a_sheet_called_by_a_name_beside_another_sheet_of_readings_waits(sheets, tmp_path):
    with pytest.raises(FileWaits) as why:
        read_sheets(tmp_path, *sheets)
    assert why.value.code == "several_persons"


@pytest.mark.parametrize("sheets", [("Sheet", "Mira"), ("Blatt1", "Tabelle2"), ("Sheet", "Schule"), ("Sheet", "April")])
def test_sheets_that_are_called_by_nobody_elses_name_are_one_persons(sheets, tmp_path):
    assert [batch.readings.height for batch in read_sheets(tmp_path, *sheets)] == [12, 12]


def test_two_numbers_of_patients_in_one_table_file_wait(tmp_path):
    text = f"Patient: 1001\n{HEADER}{lines(13)}\nPatient: 1002\n{HEADER}{lines(14)}"
    with pytest.raises(FileWaits):
        read(tmp_path, text, "t.csv")


@pytest.mark.parametrize("heading", ["Patient: Ben,", "mmol/L,", "UTC,", "Planned,"])
def test_a_heading_among_the_rows_that_changes_them_waits(heading, tmp_path):
    with pytest.raises(FileWaits) as why:
        read(tmp_path, f"{HEADER}{lines(13)}{heading}\n{lines(14)}", "t.csv")
    assert why.value.code == "heading_inside"


def test_other_words_in_the_cell_of_a_time_are_set_aside(tmp_path):
    (batch,) = read(tmp_path, f"{HEADER}{lines(13)}at the seaside,\n{lines(14)}", "t.csv")
    assert [(one.trouble.row, one.trouble.code) for one in batch.quarantine] == [(14, "not_a_time")]
    assert batch.readings.height == 24
