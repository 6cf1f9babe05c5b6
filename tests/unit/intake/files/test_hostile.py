"""Hostile and broken files: bounded, refused clearly, never half read in silence."""

import gzip
import io
import json
import logging
import re
import zipfile
from datetime import timedelta

import pytest
from support.variants import NOW, PERSON, TRUTH, Variant, workbook

from gramrise.intake import FileRefused, FileTrouble, FileWaits, load_settings, read_file

SETTINGS = load_settings()
GOOD = Variant("good").data()


def refused(tmp_path, name: str, data: bytes, **changed) -> str:
    """The code with which a file is refused or waits."""
    path = _put(tmp_path, name, data)
    with pytest.raises(FileTrouble) as trouble:
        read_file(path, PERSON, now_utc=NOW, settings=SETTINGS.model_copy(update=changed))
    assert "To mend" in str(trouble.value)
    assert name in str(trouble.value)
    return trouble.value.code


def _put(folder, name: str, data: bytes):
    path = folder / name
    path.write_bytes(data)
    return path


def archive(**members: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in members.items():
            packed.writestr(name, data)
    return out.getvalue()


def test_a_gzip_bomb_is_not_unpacked(tmp_path):
    assert refused(tmp_path, "t.csv.gz", gzip.compress(b"0" * 30_000_000)) == "unpacks_too_large"


def test_a_zip_bomb_is_not_unpacked(tmp_path):
    assert refused(tmp_path, "t.zip", archive(a=b"0" * 30_000_000)) == "unpacks_too_large"


def test_a_workbook_that_unpacks_to_too_much_is_refused(tmp_path):
    data = archive(**{"xl/workbook.xml": b" " * 30_000_000, "[Content_Types].xml": b"x"})
    assert refused(tmp_path, "t.xlsx", data) == "unpacks_too_large"


def test_an_archive_that_lies_about_its_sizes_is_counted_by_what_it_holds(tmp_path):
    data = archive(a=b"0" * 3_000_000)
    at = data.rindex(b"PK\x01\x02")
    lying = data[: at + 24] + (10).to_bytes(4, "little") + data[at + 28 :]
    assert refused(tmp_path, "t.zip", lying, most_unpacked_ratio=1.0) in {"unpacks_too_large", "packing_broken"}


@pytest.mark.parametrize(
    "name", ["../outside.csv", "/etc/table.csv", "..\\outside.csv", "C:\\table.csv", "a/../../b.csv"]
)
def test_an_archive_with_a_path_trick_is_not_read(name, tmp_path):
    assert refused(tmp_path, "t.zip", archive(**{name: GOOD})) == "path_trick"


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_an_archive_packed_in_a_rare_way_is_refused_before_it_is_unpacked(method, tmp_path):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as packed:
        packed.writestr("a.csv", GOOD)
    assert refused(tmp_path, "t.zip", out.getvalue()) == "packing_other"


def test_millions_of_empty_lines_are_refused_before_they_cost_memory(tmp_path):
    assert refused(tmp_path, "t.csv", GOOD + b"\n" * 12_000_000 + GOOD) == "empty_lines"


def test_an_archive_with_two_files_of_one_name_is_not_read_by_half(tmp_path):
    one, other = archive(**{"a.csv": GOOD}), archive(**{"b.csv": GOOD, "c.csv": GOOD})
    assert len(read_file(_put(tmp_path, "one.zip", one), PERSON, now_utc=NOW, settings=SETTINGS)) == 1
    assert refused(tmp_path, "t.zip", other.replace(b"c.csv", b"b.csv")) == "member_twice"


def test_too_many_members_are_refused(tmp_path):
    data = archive(**{f"t{at}.csv": b"x" for at in range(20)})
    assert refused(tmp_path, "t.zip", data, most_archive_members=10) == "too_many_members"


def test_an_archive_within_an_archive_is_not_opened(tmp_path):
    assert refused(tmp_path, "t.zip", archive(inner=archive(a=GOOD))) == "packed_twice"
    assert refused(tmp_path, "t.csv.gz", gzip.compress(gzip.compress(GOOD))) == "packed_twice"


@pytest.mark.parametrize("cut", [10, 40, 200])
def test_a_packing_that_is_cut_off_is_refused(cut, tmp_path):
    assert refused(tmp_path, "t.csv.gz", gzip.compress(GOOD)[:-cut]) == "packing_broken"
    assert refused(tmp_path, "t.zip", archive(a=GOOD)[:-cut]) == "packing_broken"


def test_a_broken_workbook_is_refused(tmp_path):
    data = archive(**{"xl/workbook.xml": b"<workbook", "[Content_Types].xml": b"x"})
    assert refused(tmp_path, "t.xlsx", data) == "workbook_broken"
    assert refused(tmp_path, "t.xls", b"\xd0\xcf\x11\xe0" + b"\x00" * 100) == "old_workbook"


def test_one_endless_line_is_refused(tmp_path):
    assert refused(tmp_path, "t.csv", b"time,glucose (mg/dL)\n2026-03-13 10:00,1" + b"0" * 200_000) == "line_too_long"
    big = b"2026-03-13 10:00," + b"1" * 3_000_000
    assert refused(tmp_path, "b.csv", big, block_bytes=1_000_000) in {"line_too_long", "nothing_found"}


def test_a_file_of_a_billion_rows_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "huge.csv"
    with path.open("wb") as opened:
        opened.truncate(SETTINGS.most_file_bytes + 1)  # sparse: takes no room
    with pytest.raises(FileRefused) as trouble:
        read_file(path, PERSON, now_utc=NOW)
    assert trouble.value.code == "file_too_large"


def test_more_columns_than_any_table_has_are_refused(tmp_path):
    row = ",".join("1" for _ in range(1000))
    assert refused(tmp_path, "t.csv", f"2026-03-13 10:00,{row}\n".encode() * 3) == "too_many_columns"


@pytest.mark.parametrize("depth", [50, 90_000])
def test_deep_json_is_refused(depth, tmp_path):
    text = '[{"time": "2026-03-13T10:00Z", "glucose": ' + "[" * depth + "1" + "]" * depth + "}]"
    assert refused(tmp_path, "t.json", text.replace("[[", "[\n[").encode()) == "json_too_deep"
    assert refused(tmp_path, "u.json", ('{"a":\n' * depth + "1" + "}\n" * depth).encode()) == "json_too_deep"


@pytest.mark.parametrize("word", ["NaN", "Infinity", "-Infinity"])
def test_json_that_is_no_json_is_refused(word, tmp_path):
    text = f'[{{"time": "2026-03-13T10:00Z", "glucose": {word}}}]'
    assert refused(tmp_path, "t.json", text.encode()) == "json_not_strict"


def test_a_key_that_stands_twice_is_refused(tmp_path):
    text = '[{"time": "2026-03-13T10:00Z", "glucose": 100, "glucose": 200}]'
    assert refused(tmp_path, "t.json", text.encode()) == "json_not_strict"


def test_json_that_is_cut_off_is_refused_with_its_row(tmp_path):
    text = json.dumps([{"time": "2026-03-13T10:00Z", "glucose": 100}] * 3, indent=1)[:-5]
    assert refused(tmp_path, "t.json", text.encode()) == "json_broken"


def test_a_bad_json_line_costs_that_line_alone(tmp_path):
    lines = [json.dumps({"time": at.isoformat(), "glucose (mg/dL)": level}) for at, level in TRUTH[:300]]
    lines[100] = '{"time": "2026-03-13T10:00Z", "glucose (mg/dL)": NaN}'
    lines[200] = "[1, 2]"
    path = tmp_path / "t.ndjson"
    path.write_text("\n".join(lines))
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    assert [row.trouble.row for row in batch.quarantine] == [101, 201]
    assert batch.readings.height == 298


@pytest.mark.parametrize("wrapped", [False, True])
def test_json_on_one_long_line_is_read_entry_by_entry(wrapped, tmp_path):
    entries = [
        {"time": (TRUTH[0][0] + timedelta(minutes=5 * at)).isoformat(), "glucose (mg/dL)": 100 + at % 90}
        for at in range(3000)
    ]
    entries[1000]["glucose (mg/dL)"] = 9000
    entries[2000]["time"] = "2026-02-30T10:00:00+00:00"
    text = json.dumps({"device": "kitchen", "entries": entries} if wrapped else entries)
    assert len(text) > SETTINGS.most_line_characters
    path = tmp_path / "t.json"
    path.write_text(text)
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    assert batch.readings.height == 2998
    assert [row.trouble.row for row in batch.quarantine] == [1001, 2001]
    assert "9000" in batch.quarantine[0].text
    assert len(batch.quarantine[0].text) < 100


def test_a_record_of_a_health_standard_is_not_read_as_a_table(tmp_path):
    record = {"resourceType": "Observation", "status": "entered-in-error", "valueQuantity": {"value": 100}}
    for name, text in (("t.json", json.dumps(record)), ("u.json", json.dumps([record]))):
        (tmp_path / name).write_text(text)
        (batch,) = read_file(tmp_path / name, PERSON, now_utc=NOW)
        assert batch.layout == "fhir-r4"
        assert batch.readings.height == 0
        assert [row.trouble.code for row in batch.quarantine] == ["not_the_standard"]


def test_formulas_are_never_worked_out(tmp_path):
    rows = [["Time", "Glucose (mg/dL)"], *([at.replace(tzinfo=None), level] for at, level in TRUTH[:300])]
    rows[5][1] = "=1+99"
    (tmp_path / "t.xlsx").write_bytes(workbook(rows))
    (batch,) = read_file(tmp_path / "t.xlsx", PERSON, now_utc=NOW)
    assert batch.readings.height == 299  # a formula nobody worked out has no saved value
    (tmp_path / "d.csv").write_text("time,source,amount\n2026-03-13 10:00,tablets,=2+1\n2026-03-13 11:00,tablets,1\n")
    (doses,) = read_file(tmp_path / "d.csv", PERSON, now_utc=NOW)
    assert [row.trouble.code for row in doses.quarantine] == ["formula"]


@pytest.mark.parametrize("text", ["nan", "inf", "-inf", "1e2", "0x64", "1_00", "١٠٠", "１００"])
def test_numbers_only_programs_know_are_no_glucose(text, tmp_path):
    path = tmp_path / "t.csv"
    path.write_text(f"time,glucose (mg/dL)\n2026-03-13 10:00,{text}\n2026-03-13 10:05,100\n", "utf-8")
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    assert batch.readings["glucose_mg_dl"].to_list() == [100.0]


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "file_empty"),
        (b"\x00" * 1000, "not_text"),
        (b"\xff\xfe\x00", "not_text"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "not_text"),
        (b"hello", "nothing_found"),
    ],
)
def test_what_is_no_table_is_refused_clearly(data, code, tmp_path):
    assert refused(tmp_path, "t.csv", data) == code


def test_a_file_of_too_many_bad_rows_is_refused_as_a_whole(tmp_path):
    data = b"time,glucose (mg/dL)\n" + b"2026-03-13 10:00,100\n" * 3000 + b"2026-03-13 10:00,many\n" * 500
    assert refused(tmp_path, "t.csv", data, most_troubles_named=100) == "too_many_troubles"


def test_no_health_value_reaches_a_log(tmp_path, caplog):
    caplog.set_level(logging.DEBUG)
    path = tmp_path / "t.csv"
    path.write_bytes(GOOD + b"2026-03-15 20:00,many\n")
    read_file(path, PERSON, now_utc=NOW)
    path.write_bytes(Variant("open", header=("Time", "Glucose"), truth=TRUTH[:20]).data())
    with pytest.raises(FileWaits):
        read_file(path, PERSON, now_utc=NOW)
    assert caplog.records == []


def test_unnecessary_decimal_commas_without_quotes_are_not_cut_short(tmp_path):
    """'7,6' unquoted in a table of commas is two cells: the row is set aside, not read as 7."""
    path = tmp_path / "t.csv"
    path.write_text("time,glucose (mmol/L)\n2026-03-13 10:00,7\n2026-03-13 10:05,7,6\n2026-03-13 10:10,8\n")
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    assert batch.readings.height == 2
    assert [(row.trouble.code, row.trouble.row) for row in batch.quarantine] == [("too_many_cells", 3)]


def entries(*minutes: int, note: str = "") -> str:
    return json.dumps(
        [{"time": f"2026-03-12T10:{at:02d}:00+01:00", "sensor_glucose_mg_dl": 100 + at, "note": note} for at in minutes]
    )


@pytest.mark.parametrize("between", ["\n", "", "  \r\n\n"])
def test_an_array_added_behind_the_first_is_read_as_well(between, tmp_path):
    path = _put(tmp_path, "t.json", (entries(0, 5) + between + entries(10, 15)).encode())
    (batch,) = read_file(path, PERSON, now_utc=NOW, settings=SETTINGS)
    assert batch.readings["glucose_mg_dl"].to_list() == [100.0, 105.0, 110.0, 115.0]


@pytest.mark.parametrize("behind", ["garbage", '{"a": 1}', "[1]", "]", '[{"a": 1}'])
def test_something_else_behind_an_array_holds_the_file(behind, tmp_path):
    assert refused(tmp_path, "t.json", f"{entries(0, 5)}\n{behind}".encode()) in {"json_broken", "json_no_table"}


def test_half_a_letter_in_one_note_costs_nothing_else(tmp_path):
    text = entries(0, 5, note="woke \ud83d")
    assert "\\ud83d" in text
    (batch,) = read_file(_put(tmp_path, "t.json", text.encode()), PERSON, now_utc=NOW, settings=SETTINGS)
    assert batch.readings.height == 2
    assert set(batch.events["text"]) == {"woke \ufffd"}


def test_rows_that_stand_twice_with_iso_times_are_no_clock_of_twelve_hours(tmp_path):
    rows = "".join(f"2026-03-12T10:{at:02d}:00+01:00,{100 + at}\n" for at in range(0, 30, 5))
    path = _put(tmp_path, "t.csv", f"time,glucose (mg/dL)\n{rows}{rows}".encode())
    (batch,) = read_file(path, PERSON, now_utc=NOW, settings=SETTINGS)
    assert batch.readings["glucose_mg_dl"].to_list() == [100.0 + at for at in range(0, 30, 5)]


def zeroed(*cells: str, end: bytes = b"") -> bytes:
    rows = "".join(f"2026-03-12T10:{at:02d}:00+01:00,{cell}\n" for at, cell in enumerate(cells))
    return f"time,glucose (mg/dL),note\n{rows}".encode() + end


def test_a_zero_byte_costs_its_row_alone_and_marks_its_note(tmp_path):
    cells = [*(f"{100 + at},ok" for at in range(20)), "1\x0005,ok", "130,wo\x00ke"]
    (batch,) = read_file(_put(tmp_path, "t.csv", zeroed(*cells)), PERSON, now_utc=NOW, settings=SETTINGS)
    assert batch.readings["glucose_mg_dl"].to_list() == [*range(100, 120), 130.0]
    assert [held.trouble.row for held in batch.quarantine] == [22]
    assert "wo\ufffdke" in batch.events["text"].to_list()


@pytest.mark.parametrize("half_row", ["", "2026-03-12T10:30:00+01:00,11"])
def test_a_block_of_zeros_at_the_end_of_a_file_is_one_row_that_is_set_aside(half_row, tmp_path):
    data = zeroed(*(f"{100 + at},ok" for at in range(20)), end=half_row.encode() + bytes(4096))
    (batch,) = read_file(_put(tmp_path, "t.csv", data), PERSON, now_utc=NOW, settings=SETTINGS)
    assert batch.readings["glucose_mg_dl"].to_list() == list(range(100, 120))
    assert len(batch.quarantine) == 1


def test_an_archive_with_nothing_in_it_and_one_of_another_kind_are_told_for_what_they_are(tmp_path):
    assert refused(tmp_path, "t.zip", archive()) == "file_empty"
    import tarfile

    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w:gz") as packed:
        packed.addfile(tarfile.TarInfo("t.csv"), io.BytesIO(b""))
    path = _put(tmp_path, "t.tar.gz", out.getvalue())
    with pytest.raises(FileRefused, match="a tar archive"):
        read_file(path, PERSON, now_utc=NOW, settings=SETTINGS)


def test_a_member_in_which_nothing_is_found_is_named_beside_the_others(tmp_path):
    path = _put(tmp_path, "t.zip", archive(**{"a.csv": b"foo,bar\n1,2\n", "b.csv": GOOD}))
    (batch,) = read_file(path, PERSON, now_utc=NOW, settings=SETTINGS)
    assert batch.readings.height == len(TRUTH)
    assert "t.zip: a.csv: no table and no entry was found in it; it was not read" in batch.remarks


def test_a_cell_of_many_digits_is_read_in_the_time_of_its_length(tmp_path):
    entry = b'{"time": "2026-03-12T10:00:00+01:00", "glucose_mg_dl": ' + b"9" * 500_000 + b"}"
    path = _put(tmp_path, "t.json", b"[" + entry + b"]")
    with pytest.raises(FileTrouble) as trouble:
        read_file(path, PERSON, now_utc=NOW, settings=SETTINGS.model_copy(update={"most_reading_cpu_seconds": 20}))
    assert trouble.value.code != "too_much_time"


@pytest.mark.parametrize("word", ["y" * 5_000, "yo" * 20_000, "und" * 3_000, "https://example.org/" + "a" * 9_000])
def test_a_very_long_word_of_a_remark_costs_no_good_row(word, tmp_path):
    rows = f"2026-03-10 02:00,tablets,3,{word}\n2026-03-11 03:00,tablets,3,x\n"
    (tmp_path / "log.csv").write_text(f"time,source,amount,note\n{rows}", "utf-8")
    (batch,) = read_file(tmp_path / "log.csv", PERSON, now_utc=NOW)
    assert batch.doses["grams"].to_list()[-1] == 12.0
    assert batch.rows_offered == 2


def test_a_workbook_that_names_one_sheet_very_often_is_refused_before_any_is_read(tmp_path):
    data = workbook([["time", "glucose (mg/dL)"], ["2026-03-10 02:00", "101"]])
    often = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(often, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.namelist():
            content = old.read(entry)
            if entry == "xl/workbook.xml":
                sheet = re.search(rb"<sheet [^>]*/>", content)[0]
                content = content.replace(sheet, b"".join(
                    sheet.replace(b'name="', b'name="%d' % at).replace(b'sheetId="1"', b'sheetId="%d"' % (at + 1))
                    for at in range(300)
                ))  # fmt: skip
            new.writestr(entry, content)
    (tmp_path / "often.xlsx").write_bytes(often.getvalue())
    with pytest.raises(FileRefused, match="more than 100 tables"):
        read_file(tmp_path / "often.xlsx", PERSON, now_utc=NOW)


def test_json_of_very_many_keys_or_of_one_endless_text_is_refused_before_it_costs_minutes(tmp_path):
    keys = json.dumps({f"k{at}": at for at in range(400)}).encode()
    assert refused(tmp_path, "keys.json", keys) == "too_many_columns"
    assert refused(tmp_path, "text.json", json.dumps({"a": "x" * 200_000}).encode()) == "line_too_long"
    timed = {
        f"2026-03-{1 + at // 288:02d}T{at % 288 // 12:02d}:{at % 12 * 5:02d}+01:00": 100 + at % 9 for at in range(400)
    }
    (batch,) = read_file(
        _put(
            tmp_path,
            "times.json",
            json.dumps(
                {"unit": "mg/dL", "values": [{"time": time, "glucose": value} for time, value in timed.items()]}
            ).encode(),
        ),
        PERSON,
        now_utc=NOW,
    )
    assert batch.readings.height == 400


@pytest.mark.parametrize(
    "change",
    [
        lambda sheet: re.sub(rb'r="(A|B)3"', rb'r="\g<1>5"', sheet),  # a row's number stands twice
        lambda sheet: sheet.replace(b'r="A4"', b'r="B4"'),  # two cells of one name
    ],
)
def test_a_workbook_in_which_a_cell_stands_twice_is_refused_and_not_read_by_half(change, tmp_path):
    with zipfile.ZipFile(
        io.BytesIO(workbook([["time", "glucose (mg/dL)"], *([f"2026-03-13 01:{m:02d}", 101 + m] for m in range(9))]))
    ) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    (name,) = [each for each in parts if each.startswith("xl/worksheets/sheet")]
    assert b'r="B4"' in parts[name]
    assert refused(tmp_path, "good.xlsx", archive(**(parts | {name: change(parts[name])}))) == "workbook_broken"


@pytest.mark.parametrize("careful_bytes", [500_000, 1000])
def test_a_file_of_very_many_rows_before_the_birth_says_that_they_are(careful_bytes, tmp_path):
    times = [(month, day, hour) for month in range(1, 5) for day in range(1, 29) for hour in range(24)]
    rows = b"".join(b"2003-%02d-%02d %02d:00,100\n" % at for at in times)
    file = tmp_path / "t.csv"
    file.write_bytes(b"time,glucose (mg/dL)\n" + rows)
    settings = load_settings().model_copy(update={"most_troubles_named": 1000, "careful_bytes": careful_bytes})
    with pytest.raises(FileWaits, match=r"the times of 2688 of its 2688 rows are in the future, or before the birth"):
        read_file(file, PERSON, now_utc=NOW, settings=settings)


@pytest.mark.parametrize("name", ["a.csv.gz", "a.zip", "a.XLSX", "a.tar"])
def test_a_file_that_is_named_as_packed_and_does_not_begin_so_is_called_damaged(name, tmp_path):
    data = b"x" + gzip.compress(GOOD)
    assert refused(tmp_path, name, data) == "packing_broken"
    with pytest.raises(FileRefused, match=r"it is damaged, or none\. To mend: copy or fetch it again"):
        read_file(_put(tmp_path, name, bytes(range(256)) * 50), PERSON, now_utc=NOW)


@pytest.mark.parametrize("name", ["a.csv.gz", "a.xls"])
def test_a_plain_table_under_the_name_of_a_packed_file_is_read(name, tmp_path):
    (batch,) = read_file(_put(tmp_path, name, GOOD), PERSON, now_utc=NOW)
    assert batch.readings.height == len(TRUTH)


def test_a_text_of_many_zero_bytes_is_called_not_whole_and_no_encoding_is_asked_for(tmp_path):
    with pytest.raises(FileRefused, match=r"20000 of its .* characters are zero bytes") as why:
        read_file(_put(tmp_path, "a.csv", GOOD + b"\n" + b"\x00" * 20_000 + b"\n1"), PERSON, now_utc=NOW)
    assert "encoding" not in str(why.value)


def test_a_very_long_name_of_a_member_is_shown_short(tmp_path):
    data = archive(**{"n" * 60_000 + ".csv": GOOD, "m" * 60_000 + ".csv": b"nothing here"})
    (batch,) = read_file(_put(tmp_path, "a.zip", data), PERSON, now_utc=NOW)
    assert batch.readings.height == len(TRUTH)
    assert batch.file.endswith("nnn.csv")
    assert max(len(text) for text in (batch.file, *batch.remarks)) < 300
