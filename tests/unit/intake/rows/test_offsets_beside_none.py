"""Times without an offset among times with one: set aside by name or asked about, never read by another clock."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from support.variants import NOW, PERSON

from gramrise.intake import FileWaits, load_settings, read_batches, read_file

START = datetime(2025, 8, 25, 14, tzinfo=UTC)
HEADS = {"readings": "time;glucose (mg/dL)", "insulin": "time;insulin units", "given": "time;source;grams"}
CELLS = {"readings": "101", "insulin": "2", "given": "tablets;4"}


def written(at, end):
    """'Z', an offset in hours such as '+05:00', or '' for the wall clock of Berlin."""
    if end == "Z":
        return f"{at:%Y-%m-%dT%H:%M}Z"
    if end:
        return f"{at + timedelta(hours=int(end[:3])):%Y-%m-%dT%H:%M}{end}"
    return f"{at.astimezone(ZoneInfo('Europe/Berlin')):%Y-%m-%dT%H:%M}"


def read(tmp_path, ends, kind="readings", **how):
    rows = [f"{written(START + timedelta(minutes=15 * at), end)};{CELLS[kind]}" for at, end in enumerate(ends)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([HEADS[kind], *rows]) + "\n", "utf-8")
    (batch,) = read_file(path, PERSON, now_utc=NOW, **how)
    told = [(held.trouble.row, held.trouble.code) for held in batch.quarantine]
    return batch.readings.height + batch.events.height + batch.doses.height, told


@pytest.mark.parametrize("kind", HEADS)
@pytest.mark.parametrize("end", ["Z", "+05:00"])
def test_a_time_without_an_offset_among_times_with_one_is_set_aside_by_name(kind, end, tmp_path):
    ends = [end] * 20
    ends[7] = ""
    assert read(tmp_path, ends, kind) == (19, [(9, "offset_missing")])


def test_of_three_amounts_the_one_without_the_offset_of_the_others_is_set_aside(tmp_path):
    assert read(tmp_path, ["Z", "", "Z"], "given") == (2, [(3, "offset_missing")])


@pytest.mark.parametrize("ends", [["Z", ""] * 20, ["Z"] * 20 + [""] * 20])
def test_a_table_with_many_times_of_each_kind_waits(ends, tmp_path):
    with pytest.raises(FileWaits) as waits:
        read(tmp_path, ends)
    assert waits.value.code == "offsets_mixed"


@pytest.mark.parametrize(
    "ends", [["Z"] * 20, [""] * 20, ["+02:00", ""] * 10, ["+02:00"] * 19 + [""], [""] * 19 + ["Z"]]
)
def test_times_whose_offsets_are_those_of_home_may_stand_beside_times_without(ends, tmp_path):
    assert read(tmp_path, ends) == (20, [])


def test_a_column_of_local_time_beside_one_of_utc_is_no_mixture(tmp_path):
    rows = [START + timedelta(minutes=5 * at) for at in range(30)]
    lines = [f"{written(at, 'Z')},{written(at, '')},101" for at in rows]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(["time,local time,glucose (mg/dL)", *lines]) + "\n", "utf-8")
    before = None
    try:
        (batch,) = read_file(path, PERSON, now_utc=NOW)
    except FileWaits as waits:
        before = waits.code
    assert before == "clock_open" or batch.readings["at_utc"].to_list() == rows


def test_a_later_block_of_a_large_file_in_which_the_offsets_end_is_not_read_by_the_local_clock(tmp_path):
    settings = load_settings().model_copy(update={"block_bytes": 3000, "careful_bytes": 2000})
    ends = ["Z"] * 300
    ends[250] = ""
    rows = [f"{written(START + timedelta(minutes=15 * at), end)};101" for at, end in enumerate(ends)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([HEADS["readings"], *rows]) + "\n", "utf-8")
    batches = list(read_batches(path, PERSON, now_utc=NOW, settings=settings))
    assert len(batches) > 1
    assert sum(batch.readings.height for batch in batches) == 299
    assert [held.trouble.code for batch in batches for held in batch.quarantine] == ["offset_missing"]
