"""One row of a dose log is one dose: its unit column counts, and two amounts of it never add up."""

import json

import pytest
from support.variants import NOW, PERSON

from gramrise.connectors.shelf import read_layout
from gramrise.intake import FileWaits, read_file


def read(tmp_path, text: str, name: str = "t.csv"):
    path = tmp_path / name
    path.write_text(text, "utf-8")
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    return batch


@pytest.mark.parametrize("header", ["Unit", "Einheit", "uom", "Dose"])
def test_grams_in_the_column_of_units_are_grams(header, tmp_path):
    batch = read(tmp_path, f"Date,Time,Source,Amount,{header}\n2026-03-13,07:30,tablets,8,g\n")
    assert batch.doses.select("amount_unit", "grams").rows() == [("g", 8.0)]


def test_grams_in_a_unit_of_json_are_grams(tmp_path):
    entries = [{"time": "2026-03-13T07:30", "source": "tablets", "amount": 8, "unit": "g"}]
    assert read(tmp_path, json.dumps(entries), "t.json").doses["grams"].to_list() == [8.0]


@pytest.mark.parametrize(
    ("cells", "asked"), [("Saft,5,g", "glucose_or_product"), ("Saft,2,piece", "unclear_amount"), ("Saft,10,mL", "")]
)
def test_a_unit_that_does_not_fit_its_source_is_asked_about(cells, asked, tmp_path):
    batch = read(tmp_path, f"Date,Time,Source,Amount,Unit\n2026-03-13,07:30,{cells}\n")
    assert [question.kind for question in batch.questions] == ([asked] if asked else [])
    assert batch.doses["grams"].to_list() == [None if asked else 2.5]


@pytest.mark.parametrize("cells", ["Saft,2,dl", "Saft,1,oz"])
def test_a_unit_in_which_no_glucose_is_counted_waits(cells, tmp_path):
    with pytest.raises(FileWaits) as why:
        read(tmp_path, f"Date,Time,Source,Amount,Unit\n2026-03-13,07:30,{cells}\n")
    assert why.value.code == "dose_unit_open"


@pytest.mark.parametrize(
    ("header", "cells"),
    [
        ("Source,Pieces,Grams", "tablets,2,8"),
        ("Quelle,Anzahl,Gramm", "tablets,2,8"),
        ("Source,Amount,Taken", "tablets,2,2"),
        ("Glucose grams,Note", "8,2 tablets"),
        ("Grams,Source,Note", "8,tablets,2 tablets"),
        ("Source,Amount,Note", "tablets,2,2 tablets"),
    ],
)
def test_two_amounts_of_one_row_that_agree_are_one_dose(header, cells, tmp_path):
    assert read(tmp_path, f"Date,Time,{header}\n2026-03-13,07:30,{cells}\n").doses["grams"].to_list() == [8.0]


def test_two_amounts_of_one_row_that_differ_wait(tmp_path):
    with pytest.raises(FileWaits) as why:
        read(tmp_path, "Date,Time,Source,Pieces,Grams\n2026-03-13,07:30,tablets,2,9\n")
    assert why.value.code == "dose_columns_open"


def test_a_kept_layout_sets_a_unit_aside_that_it_cannot_read(tmp_path):
    kept = read_layout(
        'name = "log"\nabout = "A log"\n[recognised_by]\nheader = ["When", "Source", "Amount", "In"]\n'
        '[clock]\ncolumns = ["When"]\n[[brings]]\nkind = "doses"\namount = "Amount"\nsource = "Source"\n'
        'unit_column = "In"\n',
        "log.toml",
    )
    path = tmp_path / "t.csv"
    path.write_text("When,Source,Amount,In\n2026-03-13 07:30,Saft,2,dl\n2026-03-13 17:30,tablets,8,g\n", "utf-8")
    (batch,) = read_file(path, PERSON, now_utc=NOW, layouts=(kept,))
    assert [(one.trouble.row, one.trouble.code) for one in batch.quarantine] == [(2, "unit_unread")]
    assert batch.doses["grams"].to_list() == [8.0]


def log(header: str, units: list[str]) -> str:
    """Ten amounts of 8 tablets or grams, and what stands in the column behind them."""
    rows = [f"2026-03-{1 + at:02d} 02:00,tablets,{8 if at % 2 else 4}{unit}" for at, unit in enumerate(units)]
    return f"time,source,{header}\n" + "\n".join(rows) + "\n"


@pytest.mark.parametrize("head", ["grams", "amount (g)", "glucose given (g)"])
@pytest.mark.parametrize("column", ["unit", "type", "count", "uom"])
def test_grams_of_the_header_hold_where_a_column_of_units_is_filled_in_one_row_alone(head, column, tmp_path):
    """One 'g' in a column of units made pieces of all the other grams, three times the glucose."""
    batch = read(tmp_path, log(f"{head},{column}", [",", ",", ",g", ",", ","]))
    assert batch.doses.select("amount_unit", "grams").rows() == [("g", float(8 if at % 2 else 4)) for at in range(5)]
    assert batch.questions == ()


@pytest.mark.parametrize("units", [[",", ",", ",pieces", ",", ","], [",pieces"] * 5])
def test_a_unit_that_contradicts_its_header_is_asked_about(units, tmp_path):
    batch = read(tmp_path, log("grams,unit", units))
    asked = sum(unit != "," for unit in units)
    assert batch.doses["grams"].null_count() == asked
    assert batch.questions != ()
    assert {unit for unit, grams in batch.doses.select("amount_unit", "grams").rows() if grams is not None} <= {"g"}


@pytest.mark.parametrize("extra", [",tablets", ",pieces", ",mL", ",g", ",tablets,6", ",lb", ",U"])
@pytest.mark.parametrize("head", ["grams", "amount (g)"])
def test_a_cell_beyond_the_header_costs_its_row_alone_and_says_nothing_of_the_others(extra, head, tmp_path):
    """'candy' in a fourth cell of one row made pieces of the grams of all other rows."""
    batch = read(tmp_path, log(head, ["", "", extra, "", ""]))
    assert [held.trouble.code for held in batch.quarantine] == ["too_many_cells"]
    assert batch.doses.select("amount_unit", "grams").rows() == [
        ("g", float(8 if at % 2 else 4)) for at in (0, 1, 3, 4)
    ]


def test_bare_numbers_beside_a_unit_that_some_rows_name_are_asked_about(tmp_path):
    batch = read(tmp_path, log("amount,unit", [",g", ",", ",g", ",", ",g"]))
    assert batch.doses["grams"].null_count() == 2
    plain = read(tmp_path, log("amount,unit", [",pieces", ",", ",pieces", ",", ",pieces"]))
    assert plain.doses["grams"].null_count() == 0
