"""A row that a line break cut in two is set aside with what was cut off it, and never read as another value."""

import pytest
from support.variants import NOW, PERSON, workbook

from gramrise.intake import FileWaits, load_settings, read_batches, read_file

TIMES = [f"2026-03-13 01:{minute:02d}" for minute in range(0, 45, 5)]
VALUES = ("210", "95", "221", "218", "188", "102", "215", "99", "240")
DECIMALS = ("12.1", "9.5", "12.4", "8.8", "10.3", "11.0", "3.5", "7.2", "12.2")
COUNTS = (12, 2, 3, 10, 4, 6, 11, 2, 3)


def read(tmp_path, lines, **changed):
    path = tmp_path / "log.csv"
    path.write_text("\n".join([*lines, ""]), "utf-8")
    batches = list(read_batches(path, PERSON, now_utc=NOW, settings=load_settings().model_copy(update=changed)))
    held = [(one.trouble.row, one.trouble.code) for batch in batches for one in batch.quarantine]
    return batches, held


def landed(batches):
    """The values of a file, without the lines they stood on."""
    frames = [(kind, getattr(one, kind)) for one in batches for kind in ("readings", "fingers", "doses", "events")]
    return {(kind, *map(str, row)) for kind, frame in frames for row in frame.iter_rows()}


TABLES = {
    "two columns": ["time,glucose (mg/dL)", *(f"{at},{each}" for at, each in zip(TIMES, VALUES, strict=True))],
    "decimals": ["time,glucose (mmol/L)", *(f"{at},{each}" for at, each in zip(TIMES, DECIMALS, strict=True))],
    "an empty note": ["time,glucose (mg/dL),note", *(f"{at},{each}," for at, each in zip(TIMES, VALUES, strict=True))],
    "value first": ["glucose (mmol/L),time", *(f"{each},{at}" for at, each in zip(TIMES, DECIMALS, strict=True))],
    "amounts": ["time,source,amount", *(f"2026-03-{5 + at:02d} 02:10,candy,{n}" for at, n in enumerate(COUNTS))],
    "several": ["time,cgm (mg/dL),finger (mg/dL),insulin units",
                *(f"{at},{each},{each if each > '2' else ''},12" for at, each in zip(TIMES, VALUES, strict=True))],
}  # fmt: skip


@pytest.mark.parametrize("kind", TABLES)
def test_a_row_broken_anywhere_is_never_read_as_another_value_nor_lost_in_silence(kind, tmp_path):
    head, *rows = TABLES[kind]
    whole, held = read(tmp_path, [head, *rows])
    truth = landed(whole)
    assert (bool(truth), held) == (True, [])
    compared = 0
    for cut in range(1, len(rows[3])):
        broken = [*rows[:3], rows[3][:cut], rows[3][cut:], *rows[4:]]
        try:
            found, held = read(tmp_path, [head, *broken])
        except FileWaits:
            continue
        assert landed(found) <= truth, broken[3:5]
        assert landed(found) == truth or held, broken[3:5]
        compared += 1
    assert compared > 5


@pytest.mark.parametrize(
    ("head", "first", "rest"),
    [
        ("time,glucose (mg/dL)", "2026-03-13 01:10,21", "5"),
        ("time,glucose (mg/dL)", "2026-03-13 01:10,21", "5,"),
        ("time,glucose (mg/dL)", "2026-03-13 01:10,", "215"),
        ("time,glucose (mg/dL),note", "2026-03-13 01:10,21", "5,,"),
        ("time,glucose (mg/dL),note", "2026-03-13 01:10,21", "5,felt low"),
        ("time,glucose (mmol/L)", "2026-03-13 01:10,3", ".5"),
        ("time,source,amount", "2026-03-13 01:10,candy,1", "2"),
        ("time,source,amount", "2026-03-13 01:10,candy,3", "not given"),
    ],
)
@pytest.mark.parametrize("at", [2, 9])
def test_a_row_and_the_rest_of_it_on_the_next_line_are_set_aside_together(head, first, rest, at, tmp_path):
    value = "candy,3" if "amount" in head else "120" if "mg" in head else "6.1"
    rows = [f"{time},{value}" for time in TIMES]
    rows[at - 1 : at] = [first.replace("01:10", TIMES[at - 1][11:]), rest]
    batches, held = read(tmp_path, [head, *rows])
    assert [row for row, _ in held] == [at + 1, at + 2]
    assert held[0][1] == "line_broken"
    assert len(landed(batches)) == 8


@pytest.mark.parametrize(
    ("line", "named"),
    [
        ("", []),
        ("Total,840", []),
        ("End of the list", [11]),
        ("- - -", [11]),
        ("2026-03-13", [11]),
    ],
)
def test_a_line_below_the_table_that_is_no_rest_costs_no_row(line, named, tmp_path):
    rows = [f"{at},{each}" for at, each in zip(TIMES, VALUES, strict=True)]
    batches, held = read(tmp_path, ["time,glucose (mg/dL)", *rows, line])
    assert (len(landed(batches)), [row for row, _ in held]) == (9, named)


def test_a_line_apart_from_the_row_above_it_costs_no_row(tmp_path):
    rows = [f"{at},{each}" for at, each in zip(TIMES, VALUES, strict=True)]
    batches, _ = read(tmp_path, ["time,glucose (mg/dL)", *rows, "", "3"])
    assert len(landed(batches)) == 9


def test_a_break_is_seen_where_a_blank_line_stands_below_every_row(tmp_path):
    rows = [f"{at},{each}" for at, each in zip(TIMES, VALUES, strict=True)]
    rows[2:3] = [rows[2][:-1], rows[2][-1:]]
    lines = [line for row in ["time,glucose (mg/dL)", *rows] for line in (row, "")]
    batches, held = read(tmp_path, lines)
    assert (len(landed(batches)), held) == (8, [(7, "line_broken"), (9, "line_broken")])


def test_numbers_of_rows_without_a_value_cost_no_row(tmp_path):
    rows = [f"{at},{time},{each}" for at, (time, each) in enumerate(zip(TIMES, VALUES, strict=True), 1)]
    batches, held = read(tmp_path, ["#,time,glucose (mg/dL)", *rows, "10,,", "11,,"])
    assert (len(landed(batches)), held) == (9, [])


def test_a_long_file_is_told_as_a_short_one_wherever_a_row_is_broken(tmp_path):
    rows = [f"2026-03-{1 + at // 24:02d} {at % 24:02d}:05,{110 + at % 90}" for at in range(150)]
    truth = landed(read(tmp_path, ["time,glucose (mg/dL)", *rows])[0])
    broken = [*rows[:47], rows[47][:-1], rows[47][-1:], *rows[48:]]
    waited = 0
    for block_bytes in range(990, 1025):
        try:
            batches, held = read(
                tmp_path, ["time,glucose (mg/dL)", *broken], careful_bytes=500, block_bytes=block_bytes
            )
        except FileWaits as waits:
            waited += "rows 49 and 50" in str(waits)
            continue
        assert (len(batches) > 1, held) == (True, [(49, "line_broken"), (50, "line_broken")])
        assert landed(batches) < truth
    assert waited == 2  # where the break lies between two blocks


def test_a_lone_number_in_a_workbook_is_no_rest_of_the_cell_above_it(tmp_path):
    rows = [[at, int(each)] for at, each in zip(TIMES, VALUES, strict=True)]
    (tmp_path / "t.xlsx").write_bytes(workbook([["time", "glucose (mg/dL)"], *rows, [None, 5]]))
    (batch,) = read_file(tmp_path / "t.xlsx", PERSON, now_utc=NOW)
    assert batch.readings.height == 9
