"""Tails that a broken copy leaves, and rows with another delimiter: set aside by name, never read or dropped."""

from datetime import datetime

import pytest
from support.variants import NOW, PERSON, workbook

from gramrise.intake import load_settings, read_batches, read_file

TIMES = [f"13.03.2026;{hour:02d}:{minute:02d}" for hour in (1, 2) for minute in range(0, 60, 5)]


def read(tmp_path, text):
    path = tmp_path / "trace.csv"
    path.write_text(text, "utf-8", newline="")
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    told = [(held.trouble.row, held.trouble.code, held.trouble.found) for held in batch.quarantine]
    return batch.readings.height, told


def trace(last, ends=";"):
    """24 rows of mmol/L; the last as it is given."""
    lines = [f"{time};{f'{8 + at / 10:.1f}'.replace('.', ',')}{ends}" for at, time in enumerate(TIMES)]
    return "Datum;Uhrzeit;Gewebezucker (mmol/l);Bemerkung\n" + "\n".join(lines[:-1]) + "\n" + last


@pytest.mark.parametrize(
    "last", ["13.03.2026;02:55;1", "13.03.2026;02:55;10,", "13.03.2026;02:5", "13.03", "13.03.2026;"]
)
def test_a_row_that_ends_sooner_than_those_above_is_named_and_not_read(last, tmp_path):
    assert read(tmp_path, trace(last)) == (23, [(25, "cut_off", last)])


@pytest.mark.parametrize("last", ["13.03.2026;02:55;10,3;", "13.03.2026;02:55;10,3;\n", "13.03.2026;02:55;10,3;krank"])
def test_a_whole_last_row_is_read_with_or_without_an_end_of_line(last, tmp_path):
    assert read(tmp_path, trace(last)) == (24, [])


def test_a_number_cut_within_its_decimals_is_named_where_all_others_have_them(tmp_path):
    text = trace("", ends="").replace(";Bemerkung", "").rstrip("\n")
    assert read(tmp_path, f"{text}\n13.03.2026;02:55;1") == (23, [(25, "cut_off", "13.03.2026;02:55;1")])


def test_whole_numbers_may_be_shorter_than_those_above(tmp_path):
    lines = [f"2026-03-13 01:{minute:02d},{101 + minute}" for minute in range(0, 60, 5)]
    assert read(tmp_path, "time,glucose (mg/dL)\n" + "\n".join([*lines, "2026-03-13 02:00,99"])) == (13, [])


@pytest.mark.parametrize(
    ("amounts", "last", "cut"),
    [
        (("6 pieces", "3 pieces", "12 pieces"), "1", True),
        (("6 pieces", "3 pieces"), "10 piec", True),
        (("6 pieces", "3 pieces"), "1 piece", False),
        (("16 mL", "23 mL", "12 mL"), "12 m", True),
        (("16 mL", "23 mL", "12 mL"), "9 mL", False),
        (("10", "13", "12"), "1", True),
        (("4", "3", "5"), "1", False),
    ],
)
@pytest.mark.parametrize("end", ["", "\n"])
def test_an_amount_cut_within_its_figures_or_unit_is_named_where_no_end_of_line_follows(
    tmp_path, amounts, last, cut, end
):
    rows = [f"2026-03-{10 + at}T07:00+01:00,{amount}" for at, amount in enumerate((*amounts, last))]
    head = "time,glucose given (g)" if amounts[0].isdigit() else "time,glucose given"
    path = tmp_path / "log.csv"
    path.write_text("\n".join([head, *rows]) + end, "utf-8", newline="")
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    assert [held.trouble.code for held in batch.quarantine] == (["cut_off"] if cut and not end else [])
    assert batch.doses.height == len(amounts) + (not cut or bool(end))


def test_a_reading_whose_last_figure_is_cut_off_is_named(tmp_path):
    lines = [f"2026-03-13 01:{minute:02d},{260 + minute % 5}" for minute in range(0, 60, 5)]
    text = "time,glucose (mg/dL)\n" + "\n".join([*lines, "2026-03-13 02:00,26"])
    assert read(tmp_path, text) == (12, [(14, "cut_off", "2026-03-13 02:00,26")])
    assert read(tmp_path, text + "\n") == (13, [])


def test_a_row_with_another_delimiter_is_named(tmp_path):
    lines = [f"2026-03-13 01:{minute:02d},{101 + minute}" for minute in range(0, 60, 5)]
    lines[4] = lines[4].replace(",", ";")
    text = "time,glucose (mg/dL)\n" + "\n".join(lines) + "\n"
    assert read(tmp_path, text) == (11, [(6, "not_a_time", "2026-03-13 01:20;121")])


def rows_with(line, delimiter=","):
    """A table of readings with one line changed."""
    lines = [f"2026-03-13 01:{minute:02d}{delimiter}{101 + minute}" for minute in range(0, 60, 5)]
    lines[4] = line
    return f"time{delimiter}glucose (mg/dL)\n" + "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    ("line", "delimiter", "code", "said"),
    [
        ('"2026-03-13 01:20,121"', ",", "not_a_time", "2026-03-13 01:20,121"),
        ('"2026-03-13 01:20;121"', ";", "not_a_time", "2026-03-13 01:20;121"),
        ("2026-03-13 01:20", ",", "uncut", "2026-03-13 01:20"),
        ('"2026-03-13 01:20"', ";", "uncut", "2026-03-13 01:20"),
        ("2026-03-13 01:20121", ",", "not_a_time", "2026-03-13 01:20121"),
    ],
)
def test_a_line_that_is_one_cell_of_a_table_of_more_is_named(line, delimiter, code, said, tmp_path):
    """A line that an editor put into quotation marks whole, or that lost its delimiter, once vanished uncounted."""
    assert read(tmp_path, rows_with(line, delimiter)) == (11, [(6, code, said)])


def test_a_row_without_a_value_is_passed_over_and_no_trouble(tmp_path):
    assert read(tmp_path, rows_with("2026-03-13 01:20,")) == (11, [])
    assert read(tmp_path, rows_with('"2026-03-13 01:20",""')) == (11, [])


@pytest.mark.parametrize(
    "line", ["13.03.202601:20;8,0;", "13.03.2026;01:208,0;", "13.03.2026;8,0", "15;5,9;", "01:20;8,0;"]
)
def test_a_row_whose_cells_moved_is_named_where_day_and_time_have_a_column_each(line, tmp_path):
    lines = [f"13.03.2026;01:{minute:02d};7,{minute % 10}" for minute in range(0, 60, 5)]
    lines[4] = line
    held = read(tmp_path, "Datum;Uhrzeit;Glukose (mmol/L)\n" + "\n".join(lines) + "\n")
    assert (held[0], [row for row, _, _ in held[1]]) == (11, [6])


def test_glucose_given_in_a_line_quoted_as_a_whole_is_named(tmp_path):
    lines = [f"2026-03-0{day + 1} 02:15,candy,{day + 1} pieces" for day in range(5)]
    lines[2] = f'"{lines[2]}"'
    (tmp_path / "log.csv").write_text("time,source,amount\n" + "\n".join(lines) + "\n", "utf-8")
    (batch,) = read_file(tmp_path / "log.csv", PERSON, now_utc=NOW)
    assert [(held.trouble.row, held.trouble.found) for held in batch.quarantine] == [(4, lines[2].strip('"'))]
    assert batch.rows_passed_over == 0


@pytest.mark.parametrize(
    "rows",
    [
        "13.03.2026 02:10;2 pieces\n14.03.2026 02:40;1.5 pieces\n15.03.2026 03:05;1",
        "13.03.2026 02:10;20 ml\n14.03.2026 02:40;12 ml\n15.03.2026 03:05;1",
    ],
)
def test_a_last_amount_that_lost_its_unit_is_named_and_not_read(rows, tmp_path):
    (tmp_path / "log.csv").write_text(f"time;given\n{rows}", "utf-8", newline="")
    (batch,) = read_file(tmp_path / "log.csv", PERSON, now_utc=NOW)
    assert batch.doses.height == 2
    assert [held.trouble.code for held in batch.quarantine] == ["cut_off"]


BLOCKWISE = load_settings().model_copy(update={"block_bytes": 2000, "careful_bytes": 1000})
CUT_TABLES = {
    "readings": ("time,glucose (mg/dL)", "225", "22"),
    "insulin": ("time,insulin units", "4.25", "4"),
    "glucose given": ("time,source,amount", "dextrose,12 pieces", "dextrose,12 pie"),
    "whole": ("time,glucose (mg/dL)", "225", "99"),
}


@pytest.mark.parametrize("rows", [97, 150, 151, 152, 400])
@pytest.mark.parametrize("what", CUT_TABLES)
def test_a_large_file_that_breaks_off_within_its_last_row_is_told_as_a_small_one_is(what, rows, tmp_path):
    header, cell, last = CUT_TABLES[what]
    times = [f"2026-03-{1 + at // 24:02d} {at % 24:02d}:05" for at in range(rows)]
    file = tmp_path / "log.csv"
    file.write_text("\n".join([header, *(f"{time},{cell}" for time in times[:-1]), f"{times[-1]},{last}"]), "utf-8")

    def told(settings):
        batches = list(read_batches(file, PERSON, now_utc=NOW, settings=settings))
        held = [(one.trouble.row, one.trouble.code) for batch in batches for one in batch.quarantine]
        landed = [batch.readings.height + batch.events.height + batch.doses.height for batch in batches]
        return len(batches), sum(landed), held

    small, large = told(load_settings()), told(BLOCKWISE)
    assert (small[0], large[0] > 1) == (1, True)
    expected = (rows, []) if what == "whole" else (rows - 1, [(rows + 1, "cut_off")])
    assert (small[1:], large[1:]) == (expected, expected)


def test_a_short_row_at_the_end_of_a_block_in_the_middle_is_no_broken_end(tmp_path):
    rows = [f"2026-03-{1 + at // 24:02d} {at % 24:02d}:05,{8 + at % 9 / 10:.1f}" for at in range(400)]
    rows = [row[:-2] if at % 8 == 7 else row for at, row in enumerate(rows)]  # some of each block, and whole numbers
    file = tmp_path / "log.csv"
    for at in range(3):
        file.write_text("time,glucose (mmol/L)\n" + "\n".join(rows[: 396 + at]) + "\n", "utf-8")
        batches = list(read_batches(file, PERSON, now_utc=NOW, settings=BLOCKWISE))
        assert [sum(one.readings.height for one in batches), sum(len(one.quarantine) for one in batches)] == [
            396 + at,
            0,
        ]


@pytest.mark.parametrize("last", [6, 6.2])
def test_a_whole_number_in_the_last_row_of_a_workbook_is_read(last, tmp_path):
    values = [5.5, 5.6, 5.7, 5.8, 5.9, 6.1, 6.3, 6.2, last]
    rows = [[datetime(2026, 3, 13, 10, 5 * at), value] for at, value in enumerate(values)]  # noqa: DTZ001 - a cell
    (tmp_path / "t.xlsx").write_bytes(workbook([["time", "glucose (mmol/L)"], *rows]))
    (batch,) = read_file(tmp_path / "t.xlsx", PERSON, now_utc=NOW)
    assert (batch.readings.height, batch.quarantine) == (9, ())


@pytest.mark.parametrize("line", ["125", "]n]+k^ss~$]?Tx5=#IbN", "125,", "# 12"])
def test_a_line_among_the_rows_that_is_no_row_is_named_and_not_counted_as_without_a_value(line, tmp_path):
    path = tmp_path / "t.csv"
    path.write_text(rows_with(line), "utf-8")
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    assert 6 in {held.trouble.row for held in batch.quarantine}
    assert (batch.rows_passed_over, batch.rows_offered) == (0, 12)


def test_a_value_on_a_line_of_its_own_is_named_with_the_row_that_lacks_it(tmp_path):
    lines = [f"2026-03-13 01:{minute:02d},{101 + minute}" for minute in range(0, 60, 5)]
    lines[4:5] = ["2026-03-13 01:20,", "121"]
    height, held = read(tmp_path, "time,glucose (mg/dL)\n" + "\n".join(lines) + "\n")
    assert (height, [row for row, _, _ in held]) == (11, [6, 7])


@pytest.mark.parametrize("line", ["- - -,", "=====,", " , "])
def test_a_line_of_ornaments_among_the_rows_is_no_trouble(line, tmp_path):
    assert read(tmp_path, rows_with(line)) == (11, [])
