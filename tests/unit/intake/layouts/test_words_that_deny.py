"""A header or kind word that calls its rows deleted, a test or a multiple is not taken for the plain quantity."""

import pytest
from support.variants import NOW, PERSON

from gramrise.intake import FileWaits, read_file

REST = "2026-03-13,08:30,bolus,3,U\n2026-03-13,18:40,finger,103,mg/dL\n"


def read(tmp_path, text: str):
    path = tmp_path / "t.csv"
    path.write_text(text, "utf-8")
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    return batch


@pytest.mark.parametrize(
    "header",
    [
        "Deleted bolus (U)",
        "Test bolus (U)",
        "Invalid sensor glucose (mg/dL)",
        "Carbs error (g)",
        "No carbs (g)",
        "Insulin (0.1 U)",
        "Carbs (10 g)",
        "Tablets (4 g)",
    ],
)
def test_a_header_that_denies_or_multiplies_waits(header, tmp_path):
    lines = "".join(f"2026-03-13,17:{minute:02d},{100 + minute}\n" for minute in range(0, 60, 5))
    with pytest.raises(FileWaits):
        read(tmp_path, f"Date,Time,{header}\n{lines}")


@pytest.mark.parametrize("header", ["Bolus (U)", "Insulin (U100)", "Carbs (g)"])
def test_a_plain_header_is_read(header, tmp_path):
    assert read(tmp_path, f"Date,Time,{header}\n2026-03-13,17:05,2\n").events["amount"].to_list() == [2.0]


@pytest.mark.parametrize("kind", ["deleted bolus", "cancelled bolus", "sensor calibration", "finger error"])
def test_a_kind_that_denies_waits(kind, tmp_path):
    unit = "U" if "bolus" in kind else "mg/dL"
    with pytest.raises(FileWaits) as why:
        read(tmp_path, f"Date,Time,Type,Value,Unit\n2026-03-13,07:30,{kind},120,{unit}\n{REST}")
    assert why.value.code == "kind_open"


def test_a_row_with_a_blank_kind_is_set_aside_by_name(tmp_path):
    batch = read(tmp_path, f"Date,Time,Type,Value,Unit\n2026-03-13,07:30,,2,U\n{REST}")
    assert [(one.trouble.row, one.trouble.code) for one in batch.quarantine] == [(2, "no_kind")]
    assert (batch.events.height, batch.fingers.height) == (1, 1)


def test_grams_beside_carbohydrate_are_read(tmp_path):
    batch = read(tmp_path, "Date,Time,Carbs,Unit\n2026-03-13,07:30,20,g\n2026-03-13,18:30,30,g\n")
    assert batch.events["amount"].to_list() == [20.0, 30.0]


def test_other_units_beside_carbohydrate_wait(tmp_path):
    with pytest.raises(FileWaits):
        read(tmp_path, "Date,Time,Carbs,Unit\n2026-03-13,07:30,2,oz\n2026-03-13,18:30,30,g\n")
