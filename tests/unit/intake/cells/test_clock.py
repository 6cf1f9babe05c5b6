"""Written times and clock changes: the cases of our notes on time (time_cases.json), and two zones with odd rules."""

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from support.variants import NOW, PERSON

from gramrise.connectors.layout import Clock
from gramrise.domain.person import Dated, Person
from gramrise.intake import load_settings, load_words, read_file
from gramrise.intake.cells.clock_changes import place
from gramrise.intake.cells.time_columns import read_times
from gramrise.intake.cells.written_times import DateStyle, read_written_time
from gramrise.intake.context import ReadContext
from gramrise.intake.files.text_table import TextTable, cells_of

CASES = json.loads((Path(__file__).parent / "time_cases.json").read_text("utf-8"))["cases"]
SETTINGS, WORDS = load_settings(), load_words()
BY_ID = {case["id"]: case for case in CASES}
# Strings that carry an instant in themselves and that a table may use, by the cases' own rules.
READ = [f"s{at:02d}" for at in (*range(1, 13), 14, 15, 16, 19, 20, 26, 27, *range(29, 36))]
REFUSED = ["s13", "s17", "s18", "s25", "s28", "s42", "s45", "s46"]
DAYS_ALONE = ["s22"]
NO_DAYS = ["s23", "s24"]


def instants(texts: list[str], *, zone: str = "Europe/Berlin", formats: tuple[str, ...] = ("ymd",)) -> pl.DataFrame:
    """Times of a one-column table, for a person in a zone, read in the year 2030."""
    person = Person("P1", date(2000, 1, 1), Dated(((date(1990, 1, 1), ZoneInfo(zone)),)))
    table = TextTable("t.csv", ("time",), (), cells_of([(row, (text,)) for row, text in enumerate(texts, 2)]))
    clock = Clock(columns=("time",), formats=formats)
    return read_times(table, clock, ReadContext(person, SETTINGS, WORDS, datetime(2030, 1, 1, tzinfo=UTC))).frame


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text)


@pytest.mark.parametrize("case_id", READ)
def test_a_written_instant_is_read_as_the_case_says(case_id):
    case = BY_ID[case_id]
    frame = instants([case["input"]])
    assert frame["no_time"][0] == ""
    assert frame["at_utc"][0] == utc(case["utc"])


@pytest.mark.parametrize("case_id", [*REFUSED, *NO_DAYS])
def test_what_is_no_time_is_set_aside(case_id):
    assert instants([BY_ID[case_id]["input"]])["no_time"][0] == "not_a_time"


@pytest.mark.parametrize("case_id", DAYS_ALONE)
def test_a_day_is_never_its_midnight(case_id):
    assert instants([BY_ID[case_id]["input"]])["no_time"][0] == "no_time_of_day"


@pytest.mark.parametrize("case_id", ["s40", "s41"])
def test_placeholders_for_unknown_are_out_of_range(case_id):
    assert instants([BY_ID[case_id]["input"]])["no_time"][0] == "time_out_of_range"


@pytest.mark.parametrize(("case_id", "form"), [("s37", "epoch s"), ("s38", "epoch ms")])
def test_counts_since_1970_are_read_where_they_are_declared(case_id, form):
    case = BY_ID[case_id]
    assert instants([case["input"]], formats=(form,))["at_utc"][0] == utc(case["utc"])
    assert instants([case["input"]])["no_time"][0] == "not_a_time"


def test_a_spreadsheet_day_is_local_time_where_it_is_declared():
    frame = instants([BY_ID["s39"]["input"]], formats=("sheet serial",))
    assert frame["local"][0] == datetime(2024, 5, 2, 10, 15)  # noqa: DTZ001 - a wall-clock value
    assert instants([BY_ID["s39"]["input"]])["no_time"][0] == "not_a_time"


def test_a_one_digit_month_needs_a_stated_pattern():
    text = BY_ID["s43"]["input"]
    assert instants([text], formats=("iso",))["no_time"][0] == "not_a_time"
    assert instants([text], formats=("ymd",))["at_utc"][0] == datetime(2024, 5, 2, 10, 15, tzinfo=UTC)


def test_white_space_around_is_trimmed():
    for case_id in ("s35", "s44", "s47"):
        assert instants([BY_ID[case_id]["input"]])["at_utc"][0] == datetime(2024, 5, 2, 10, 15, tzinfo=UTC)


def test_minus_zero_keeps_the_instant_and_no_offset():
    frame = instants([BY_ID["s05"]["input"]])
    assert (frame["at_utc"][0], frame["offset_minutes"][0]) == (utc(BY_ID["s05"]["utc"]), None)


def test_a_written_offset_is_kept_beside_the_instant():
    assert instants([BY_ID["s03"]["input"]])["offset_minutes"][0] == -240


LOCAL = [case for case in CASES if case["group"] == "local" and case["id"] != "l26"]


@pytest.mark.parametrize("case", LOCAL, ids=[case["id"] for case in LOCAL])
def test_a_wall_time_lies_where_the_zone_puts_it(case):
    frame = instants([case["input"]], zone=case["zone"])
    if case["kind"] == "gap":
        assert frame["no_time"][0] == "no_such_local_time"
    elif case["kind"] == "fold":
        assert frame["at_utc"][0] == utc(case["utc"][0])
        assert not frame["certain"][0]
    else:
        assert frame["at_utc"][0] == utc(case["utc"][0])
        assert frame["certain"][0]


def _sequence(case_id: str) -> tuple[list[datetime], list[bool]]:
    case = BY_ID[case_id]
    frame = instants(case["input"], zone=case["zone"])
    return frame["at_utc"].to_list(), frame["certain"].to_list()


@pytest.mark.parametrize("case_id", ["q01", "q02", "q04", "q05"])
def test_a_sequence_lies_as_the_case_says(case_id):
    assert _sequence(case_id)[0] == [utc(text) for text in BY_ID[case_id]["utc"]]


def test_both_passes_in_order_are_certain_and_one_pass_alone_is_not():
    assert all(_sequence("q01")[1])
    assert _sequence("q02")[1] == [True, False, True]


def test_two_passes_shuffled_together_are_not_told_apart():
    assert not any(_sequence("q03")[1])


@pytest.mark.parametrize(
    ("zone", "start"),
    [
        ("Australia/Lord_Howe", datetime(2024, 4, 6, 12, tzinfo=UTC)),  # back by 30 minutes only
        ("Australia/Lord_Howe", datetime(2024, 10, 5, 12, tzinfo=UTC)),  # forward by 30 minutes
        ("Africa/Casablanca", datetime(2024, 3, 9, 20, tzinfo=UTC)),  # back when the month of fasting begins
        ("Africa/Casablanca", datetime(2024, 4, 13, 20, tzinfo=UTC)),  # forward again after it
        ("America/New_York", datetime(2024, 11, 3, 0, tzinfo=UTC)),
        ("Europe/Berlin", datetime(2025, 10, 25, 18, tzinfo=UTC)),
        ("Pacific/Apia", datetime(2011, 12, 29, 20, tzinfo=UTC)),  # a date that never was
    ],
)
@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize("step", [1, 5, 15])
def test_a_whole_trace_finds_its_way_over_any_change_of_clock(zone, start, backwards, step):
    truth = [start + timedelta(minutes=step * at) for at in range(24 * 60 // step)]
    truth = truth[::-1] if backwards else truth
    walls = [at.astimezone(ZoneInfo(zone)).replace(tzinfo=None) for at in truth]
    placed = place(pl.Series(walls, dtype=pl.Datetime("us")), ZoneInfo(zone), SETTINGS)
    assert placed.at_utc.to_list() == truth
    assert placed.certain.all()


@pytest.mark.parametrize("cut", [60, 75, 90])
def test_a_trace_cut_within_the_repeated_hour_is_placed_by_its_spacing(cut):
    """Half of a file, as it lies when an export ends or begins in that hour."""
    start = datetime(2025, 10, 25, 23, 0, tzinfo=UTC)
    truth = [start + timedelta(minutes=5 * at) for at in range(48)]
    for half in (truth[: cut // 5], truth[cut // 5 :]):
        walls = [at.astimezone(ZoneInfo("Europe/Berlin")).replace(tzinfo=None) for at in half]
        placed = place(pl.Series(walls, dtype=pl.Datetime("us")), ZoneInfo("Europe/Berlin"), SETTINGS)
        assert placed.at_utc.to_list() == half
        assert placed.certain.all()


def test_what_stands_in_an_hour_that_nobody_can_place_is_set_aside(tmp_path):
    (tmp_path / "r.csv").write_text("time,glucose (mg/dL)\n2025-10-26 02:30,80\n")
    (tmp_path / "d.csv").write_text("time,grams\n2025-10-26 02:30,8\n")
    readings = read_file(tmp_path / "r.csv", PERSON, now_utc=NOW)[0]
    doses = read_file(tmp_path / "d.csv", PERSON, now_utc=NOW)[0]
    assert [row.trouble.code for row in readings.quarantine] == ["time_ambiguous"]
    assert (doses.doses.height, [row.trouble.code for row in doses.quarantine]) == (0, ["time_ambiguous"])


def test_rows_with_written_offsets_place_their_neighbours_without():
    texts = ["2019-10-27T01:45+02:00", "2019-10-27T02:00", "2019-10-27T02:15", "2019-10-27T02:30+02:00"]
    expected = [datetime(2019, 10, 26, 23, 45, tzinfo=UTC) + timedelta(minutes=15 * at) for at in range(4)]
    assert instants(texts)["at_utc"].to_list() == expected


def test_each_time_is_read_in_the_zone_that_held_on_its_day():
    zones = ((date(2025, 1, 1), ZoneInfo("Europe/Berlin")), (date(2026, 3, 14), ZoneInfo("America/Chicago")))
    person = Person("P1", date(2014, 1, 1), Dated(zones))
    table = TextTable("t.csv", ("time",), (), cells_of([(2, ("2026-03-13 12:00",)), (3, ("2026-03-14 12:00",))]))
    clock = Clock(columns=("time",), formats=("ymd",))
    read = read_times(table, clock, ReadContext(person, SETTINGS, WORDS, NOW)).frame
    assert read["at_utc"].to_list() == [
        datetime(2026, 3, 13, 11, tzinfo=UTC),
        datetime(2026, 3, 14, 17, tzinfo=UTC),
    ]


@pytest.mark.parametrize(
    ("text", "order", "wall"),
    [
        ("14.3.26 2:05", "dmy", datetime(2026, 3, 14, 2, 5)),  # noqa: DTZ001
        ("3/14/26 2:05 PM", "mdy", datetime(2026, 3, 14, 14, 5)),  # noqa: DTZ001
        ("3/14/2026 12:05 a.m.", "mdy", datetime(2026, 3, 14, 0, 5)),  # noqa: DTZ001
        ("14. März 2026, 2:05 Uhr", "ymd", datetime(2026, 3, 14, 2, 5)),  # noqa: DTZ001
        ("Sat, 14 Mar 2026 02:05", "ymd", datetime(2026, 3, 14, 2, 5)),  # noqa: DTZ001
        ("14 août 2025 à 2h05", "ymd", datetime(2025, 8, 14, 2, 5)),  # noqa: DTZ001
        ("14 de marzo de 2026 02:05", "ymd", datetime(2026, 3, 14, 2, 5)),  # noqa: DTZ001
        ("March 14, 2026 3 pm", "ymd", datetime(2026, 3, 14, 15, 0)),  # noqa: DTZ001
        ("20260314 0205", "ymd", datetime(2026, 3, 14, 2, 5)),  # noqa: DTZ001
        ("2026-03-14 13:05 pm", "ymd", None),
        ("31.2.2026 02:05", "dmy", None),
        ("14.3.2026 3", "dmy", None),
    ],
)
def test_times_as_people_write_them(text, order, wall):
    moment = read_written_time(text, DateStyle(order, 68))
    assert (moment.local if moment else None) == wall
