"""Tables of two persons in one file wait, also where only a number, a letter or a heading row tells them apart."""

import json

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
