"""What a file holds beside its log is named, never passed over in silence; and zones and denials in words count."""

import io
import json
from datetime import datetime, timedelta

import openpyxl
import pytest
from support.variants import NOW, PERSON

from gramrise.intake import FileWaits, read_file

ENTRIES = [{"time": f"2026-03-14T0{at // 12}:{at % 12 * 5:02d}:00Z", "sensor_mg_dl": 104} for at in range(30)]


def read(tmp_path, name, data):
    (tmp_path / name).write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_file(tmp_path / name, PERSON, now_utc=NOW)


def workbook(**sheets):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, state in sheets.items():
        sheet = book.create_sheet(name)
        sheet.append(["Time", "CGM (mg/dL)"])
        for at in range(30):
            sheet.append([datetime(2026, 3, 14, 6) + timedelta(minutes=5 * at), 104])  # noqa: DTZ001 - a wall clock
        sheet.sheet_state = state
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


def test_a_hidden_sheet_is_named_and_not_read(tmp_path):
    (batch,) = read(tmp_path, "a.xlsx", workbook(Data="visible", Old="hidden"))
    assert batch.readings.height == 30
    assert [remark for remark in batch.remarks if "a.xlsx: Old" in remark and "hidden" in remark]


@pytest.mark.parametrize("name", ["Example", "Vorlage 2", "trash", "Kopie"])
def test_a_sheet_that_calls_itself_an_example_or_rubbish_waits(tmp_path, name):
    with pytest.raises(FileWaits) as waits:
        read(tmp_path, "a.xlsx", workbook(**{name: "visible"}))
    assert waits.value.code == "never_happened"


def test_a_list_of_devices_beside_the_readings_is_named_and_not_read(tmp_path):
    (batch,) = read(tmp_path, "a.json", json.dumps({"devices": [{"name": "a"}, {"name": "b"}], "readings": ENTRIES}))
    assert batch.readings.height == 30
    assert [remark for remark in batch.remarks if "devices" in remark]


def test_a_note_that_speaks_of_a_zone_waits(tmp_path):
    with pytest.raises(FileWaits) as waits:
        read(tmp_path, "note.txt", "2026-03-14\ntimes in UTC\n02:10 3 tablets\n")
    assert waits.value.code == "zone_open"


@pytest.mark.parametrize("remark", ["entered by mistake", "Testmessung", "par erreur", "please ignore"])
def test_a_reading_whose_remark_denies_it_is_set_aside(tmp_path, remark):
    rows = "".join(f"{one['time']},104,{remark if at == 7 else ''}\n" for at, one in enumerate(ENTRIES))
    (batch,) = read(tmp_path, "t.csv", f"Time,CGM (mg/dL),Note\n{rows}")
    assert batch.readings.height == 29
    assert [(held.trouble.code, held.trouble.row) for held in batch.quarantine] == [("row_denied", 9)]


def test_an_amount_that_was_spat_out_is_set_aside(tmp_path):
    rows = "".join(f"2026-03-{day} 02:30,tablets,3,{'spat out' if day == 15 else ''}\n" for day in range(13, 20))
    (batch,) = read(tmp_path, "t.csv", f"Time,Source,Amount,Remark\n{rows}")
    assert batch.doses.height == 6
    assert [held.trouble.row for held in batch.quarantine] == [4]
