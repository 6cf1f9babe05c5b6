"""Large tables: what begins only in a later block is read, asked about, or named; never misread."""

from datetime import datetime, timedelta

import pytest
from support.variants import NOW, PERSON

from gramrise.intake import FileWaits, load_settings, read_batches

SETTINGS = load_settings().model_copy(update={"block_bytes": 3000, "careful_bytes": 2000})
LONG = "Time,Kind,Value,Unit\n"
WIDE = "Time,Glucose (mg/dL),Bolus (U),Note\n"
ROWS = 400


def at(index):
    return f"{datetime(2026, 3, 13, 6, 2) + timedelta(minutes=5 * index):%Y-%m-%d %H:%M}"  # noqa: DTZ001 - a wall clock


def long_rows(start, end, kind="Sensor glucose", value="104", unit="mg/dL"):
    return "".join(f"{at(index)},{kind},{value},{unit}\n" for index in range(start, end))


def wide_rows(start, end, beside=","):
    return "".join(f"{at(index)},{100 + index % 40},{beside}\n" for index in range(start, end))


def batches_of(tmp_path, text):
    file = tmp_path / "t.csv"
    file.write_text(text)
    found = list(read_batches(file, PERSON, now_utc=NOW, settings=SETTINGS))
    assert len(found) > 2
    return found


def test_a_kind_that_begins_late_is_read_from_there_on(tmp_path):
    late = long_rows(ROWS, ROWS + 3, "Bolus", "2.5", "U")
    found = batches_of(tmp_path, LONG + long_rows(0, ROWS) + late + long_rows(ROWS + 3, 2 * ROWS))
    assert sum(batch.readings.height for batch in found) == 2 * ROWS - 3
    assert [amount for batch in found for amount in batch.events["amount"].to_list()] == [2.5] * 3


def test_a_column_that_is_filled_late_is_read_from_there_on(tmp_path):
    found = batches_of(tmp_path, WIDE + wide_rows(0, ROWS) + wide_rows(ROWS, 2 * ROWS, "1.5,"))
    assert sum(batch.readings.height for batch in found) == 2 * ROWS
    assert sum(batch.events.height for batch in found) == ROWS


@pytest.mark.parametrize(
    ("late", "code"),
    [
        (long_rows(ROWS, ROWS + 3, "Zorb", "3", ""), "kind_open"),
        (long_rows(ROWS, ROWS + 60, value="5.6", unit="mmol/L"), "rows_change"),
    ],
)
def test_a_kind_or_a_unit_that_begins_late_and_leaves_something_open_is_asked_about(tmp_path, late, code):
    with pytest.raises(FileWaits) as waits:
        batches_of(tmp_path, LONG + long_rows(0, ROWS) + late)
    assert waits.value.code == code


@pytest.mark.parametrize(
    ("header", "before", "late", "code"),
    [
        ("Time,Glucose (mg/dL),Status,Note\n", "ok,", "deleted,", "rows_marked"),
        ("Time,Glucose (mg/dL),Name,Note\n", "Mia,", "Ben,", "several_persons"),
        ("time,glucose (mg/dL),note,x\n", ",", "deleted,", "rows_marked"),
    ],
)
def test_a_mark_or_a_person_that_begins_late_is_asked_about(tmp_path, header, before, late, code):
    with pytest.raises(FileWaits) as waits:
        batches_of(tmp_path, header + wide_rows(0, ROWS, before) + wide_rows(ROWS, ROWS + 5, late))
    assert waits.value.code == code


def test_a_name_alone_among_later_rows_is_asked_about(tmp_path):
    rows = "".join(f"{at(index)},104\n" for index in range(ROWS))
    with pytest.raises(FileWaits) as waits:
        batches_of(tmp_path, f"time,glucose (mg/dL)\n{rows}Ben,\n{rows}")
    assert waits.value.code == "heading_inside"


def test_values_of_another_unit_in_a_later_block_are_asked_about(tmp_path):
    first = "".join(f"{at(index)},104\n" for index in range(ROWS))
    later = "".join(f"{at(index)},{5 + index % 5}.{index % 10}\n" for index in range(ROWS, ROWS + 100))
    with pytest.raises(FileWaits) as waits:
        batches_of(tmp_path, f"time,glucose (mg/dL)\n{first}{later}")
    assert waits.value.code == "unit_mixed"
