"""A quotation mark without its partner costs its own line, however large the file; quoted line breaks stay."""

from datetime import UTC, datetime, timedelta

import pytest
from support.variants import NOW, PERSON

from gramrise.intake import FileRefused, load_settings, read_file
from gramrise.intake.files.delimited import Record, records
from gramrise.intake.files.line_account import check_lines
from gramrise.intake.files.table_bounds import TableRecords
from gramrise.intake.rows import check_told

SETTINGS = load_settings()
START = datetime(2026, 3, 13, tzinfo=UTC)


def lines(rows: int, note: str = "") -> list[str]:
    return [f"{START + timedelta(minutes=5 * at):%Y-%m-%d %H:%M},{100 + at % 50}{note}" for at in range(rows)]


def read(tmp_path, header: str, rows: list[str], **changed):
    path = tmp_path / "t.csv"
    path.write_text("\n".join([header, *rows, ""]), encoding="utf-8")
    (batch,) = read_file(path, PERSON, now_utc=NOW, settings=SETTINGS.model_copy(update=changed))
    return batch


@pytest.mark.parametrize("careful_bytes", [500_000, 100])
@pytest.mark.parametrize(
    "slip",
    [
        '2026-03-13 08:20,"100',
        '"2026-03-13 08:20,100',
        '2026-03-13 08:20,"',
        '"',
        '2026-03-13 08:20,100,"spilled',
    ],
)
def test_a_stray_mark_costs_its_line_alone(slip, careful_bytes, tmp_path):
    rows = lines(1692)
    rows[100] = slip
    batch = read(tmp_path, "time,glucose (mg/dL)", rows, careful_bytes=careful_bytes)
    assert batch.readings.height == 1691
    assert [(one.trouble.code, one.trouble.row, one.text) for one in batch.quarantine] == [("quotes_broken", 102, slip)]
    assert batch.rows_offered == 1692


@pytest.mark.parametrize("careful_bytes", [500_000, 100])
def test_many_stray_marks_cost_their_lines(careful_bytes, tmp_path):
    rows = lines(1000)
    for at in range(0, 1000, 7):
        rows[at] = rows[at].replace(",", ',"')
    batch = read(tmp_path, "time,glucose (mg/dL)", rows, careful_bytes=careful_bytes)
    assert (batch.readings.height, len(batch.quarantine)) == (1000 - 143, 143)


@pytest.mark.parametrize("careful_bytes", [500_000, 100])
def test_a_stray_mark_beside_quoted_notes_does_not_swallow_up_to_the_next_of_them(careful_bytes, tmp_path):
    rows = lines(300, ',"a ""quoted"" note\nof two lines, 10:15 and then\nthree"')
    rows[50] = rows[50].replace(",1", ',"1', 1)
    batch = read(tmp_path, "time,glucose (mg/dL),note", rows, careful_bytes=careful_bytes)
    named = {one.trouble.row for one in batch.quarantine}
    landed = set(batch.readings["at_utc"].to_list())
    lost = {at for at in range(300) if START - timedelta(hours=1) + timedelta(minutes=5 * at) not in landed}
    assert 50 in lost
    assert len(lost) <= 2  # in blocks also the row at a block's end
    assert {2 + 3 * at for at in lost} <= named


def test_a_quoted_note_of_many_lines_stays_one_row(tmp_path):
    rows = [f'{row},"gave 3\n10:15, 2 more\n\nall well"' for row in lines(20)]
    batch = read(tmp_path, "time,glucose (mg/dL),note", rows)
    assert (batch.readings.height, batch.rows_offered, batch.quarantine) == (20, 20, ())


def test_a_file_of_stray_marks_takes_no_longer_than_another():
    text = "\n".join(f'2026-03-13 10:{at % 60:02},"1' for at in range(20_000))
    cut = records(text, ",", "t.csv", SETTINGS)
    assert len(cut) == 20_000
    assert all(one.broken for one in cut)


def test_a_line_that_looks_like_a_row_and_is_in_no_table_holds_the_file():
    text = ["time,glucose", *lines(10)]
    cut = [Record(row, tuple(line.split(","))) for row, line in enumerate(text, 1)]
    whole = TableRecords((), (cut[0],), tuple(cut[1:]))
    check_lines("t.csv", text, cut, [whole], ",")
    without_one = TableRecords((), (cut[0],), tuple(cut[1:5] + cut[6:]))
    with pytest.raises(FileRefused) as trouble:
        check_lines("t.csv", text, cut, [without_one], ",")
    assert trouble.value.code == "rows_unaccounted"
    assert "row 6" in str(trouble.value)


@pytest.mark.parametrize(
    ("header", "slip"),
    [
        ("time,glucose (mg/dL)", '"2026-03-13 0{0}:10,90'),
        ("time;glucose (mg/dL)", '2026-03-13 0{0}:10;"90'),
        ("time,source,amount", '2026-03-13 0{0}:10,"tablets,3'),
    ],
)
@pytest.mark.parametrize("rows", [1, 2, 9])
def test_a_file_of_which_every_row_has_a_stray_mark_sets_each_of_them_aside(header, slip, rows, tmp_path):
    slips = [slip.format(at) for at in range(rows)]
    batch = read(tmp_path, header, slips)
    assert [(one.trouble.code, one.text) for one in batch.quarantine] == [("quotes_broken", each) for each in slips]
    assert batch.rows_offered == rows


def test_a_long_file_of_stray_marks_has_its_columns_and_is_refused_for_its_rows(tmp_path):
    slips = [f'"{line}' for line in lines(11_000)]
    with pytest.raises(FileRefused) as refused:
        read(tmp_path, "time,glucose (mg/dL)", slips, careful_bytes=100)
    assert refused.value.code == "too_many_troubles"
    batch = read(tmp_path, "time,glucose (mg/dL)", slips[:5000], careful_bytes=100)
    assert (batch.rows_offered, len(batch.quarantine)) == (5000, 5000)


def test_lines_beside_a_table_that_no_batch_tells_hold_the_file(tmp_path):
    batch = read(tmp_path, "time,glucose (mg/dL)", [*lines(5), '"'])
    check_told("t.csv", [(7, "quotes_broken", '"')], [batch])
    with pytest.raises(FileRefused) as refused:
        check_told("t.csv", [(7, "quotes_broken", '"'), (9, "quotes_broken", '"')], [batch])
    assert (refused.value.code, "row 9" in str(refused.value)) == ("rows_unaccounted", True)
