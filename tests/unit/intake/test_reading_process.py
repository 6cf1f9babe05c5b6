"""A file whose reading would take the machine's memory or time, or breaks its reader, costs itself only."""

import json
import os
import signal
import subprocess
import sys
import time
import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from support.hostile_workbooks import far_corners, one_text_many_times
from support.variants import NOW, PERSON, TRUTH, Variant, workbook

from gramrise.intake import FileRefused, FileTrouble, FileWaits, load_settings, read_file, recognise
from gramrise.intake.reading_process import reading_process

SETTINGS = load_settings()
SMALL = SETTINGS.model_copy(update={"most_reading_memory_bytes": 400_000_000})


def good_workbook() -> bytes:
    return workbook([["Time", "Glucose (mg/dL)"], *([at.replace(tzinfo=None), level] for at, level in TRUTH[:300])])


def refused(tmp_path, name: str, data: bytes, settings=SETTINGS) -> FileTrouble:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(FileTrouble) as trouble:
        read_file(path, PERSON, now_utc=NOW, settings=settings)
    assert name in str(trouble.value)
    assert "To mend" in str(trouble.value)
    return trouble.value


def and_a_good_one_is_read(tmp_path) -> None:
    path = tmp_path / "good.xlsx"
    path.write_bytes(good_workbook())
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    assert batch.readings.height > 200


def test_a_workbook_of_two_cells_at_the_far_corners_is_refused_before_it_is_opened(tmp_path):
    data = far_corners()
    assert len(data) < 2500
    assert refused(tmp_path, "corners.xlsx", data).code == "too_many_columns"


def test_a_text_repeated_sixty_thousand_times_is_refused_before_it_is_multiplied(tmp_path):
    data = one_text_many_times()
    assert len(data) < 400_000
    assert refused(tmp_path, "repeated.xlsx", data).code == "unpacks_too_large"


@pytest.mark.parametrize("make", [far_corners, one_text_many_times])
def test_what_slips_through_the_checks_before_is_ended_by_the_limit_of_memory(make, tmp_path):
    assert refused(tmp_path, "hidden.xlsx", make(quote="'"), SMALL).code in {"too_much_memory", "workbook_broken"}
    and_a_good_one_is_read(tmp_path)


def test_a_reader_that_works_without_end_is_ended(tmp_path, monkeypatch):
    quick = SETTINGS.model_copy(update={"most_reading_cpu_seconds": 1})
    entries = [{"time": "2026-03-13T10:00Z", "glucose": at, "note": "x" * 50} for at in range(200_000)]
    assert refused(tmp_path, "long.json", json.dumps(entries).encode(), quick).code == "too_much_time"
    and_a_good_one_is_read(tmp_path)


def test_json_beyond_its_bound_is_refused_before_it_is_parsed(tmp_path):
    less = SETTINGS.model_copy(update={"most_json_bytes": 1000})
    assert refused(tmp_path, "large.json", b"[" + b" " * 1000 + b"]", less).code == "file_too_large"


def test_more_tables_than_any_file_has_are_refused(tmp_path):
    text = "".join(f"time,glucose{at}\n2026-03-13 10:00,100\n\n" for at in range(300))
    assert refused(tmp_path, "many.csv", text.encode()).code == "too_many_tables"


def test_a_process_that_was_killed_between_two_files_is_started_again(tmp_path):
    and_a_good_one_is_read(tmp_path)
    before = reading_process.pid
    os.kill(before, signal.SIGKILL)
    time.sleep(0.2)
    and_a_good_one_is_read(tmp_path)
    assert reading_process.pid != before


def test_a_process_that_goes_by_itself_costs_no_file(tmp_path):
    """After a file that took much of the memory allowed, the next one gets a fresh process, however fast it comes."""
    little = SETTINGS.model_copy(update={"most_reading_memory_bytes": 260_000_000})
    path = tmp_path / "good.xlsx"
    path.write_bytes(good_workbook())
    seen = set()
    for _ in range(4):
        (batch,) = read_file(path, PERSON, now_utc=NOW, settings=little)
        assert batch.readings.height > 200
        seen.add(reading_process.pid)
    assert len(seen) > 1


def test_what_a_file_waits_for_comes_whole_out_of_the_process(tmp_path):
    path = tmp_path / "open.json"
    path.write_text(json.dumps([{"time": "2026-03-13T10:00Z", "glucose": 100 + at} for at in range(5)]))
    with pytest.raises(FileWaits) as waits:
        read_file(path, PERSON, now_utc=NOW)
    assert waits.value.lines
    assert waits.value.mend.count("gramrise layouts FILE") <= 1
    assert not recognise(path, PERSON, now_utc=NOW).certain


def test_the_process_ends_with_the_one_that_started_it(tmp_path):
    (tmp_path / "good.xlsx").write_bytes(good_workbook())
    program = (
        "import sys; from pathlib import Path; from support.variants import NOW, PERSON\n"
        "from gramrise.intake import read_file; from gramrise.intake.reading_process import reading_process\n"
        "read_file(Path(sys.argv[1]), PERSON, now_utc=NOW); print(reading_process.pid, flush=True)\n"
        "import os, signal; os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    paths = os.pathsep.join(filter(None, sys.path))
    told = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path / "good.xlsx")],
        check=False, env=os.environ | {"PYTHONPATH": paths}, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    pid = int(told.stdout)
    assert any(ended(pid) or time.sleep(0.1) for _ in range(100))


def ended(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] == "Z"
    except FileNotFoundError:
        return True


def damaged_archives() -> dict[str, bytes]:
    """Archives with one byte changed in the directory; the benchmark of faults damages every place."""
    found: dict[str, bytes] = {}
    for method in (zipfile.ZIP_DEFLATED, zipfile.ZIP_LZMA, zipfile.ZIP_BZIP2):
        out = BytesIO()
        with zipfile.ZipFile(out, "w", method) as packed:
            packed.writestr("a.csv", Variant("good").data()[:2000])
        whole = out.getvalue()
        for at in [*range(4, 60, 4), *range(len(whole) - 110, len(whole), 4)]:
            for value in (0x00, 0x80, 0xFF):
                found[f"{method}-{at}-{value}.zip"] = whole[:at] + bytes([value]) + whole[at + 1 :]
    return found


def test_a_damaged_archive_is_read_or_refused_and_never_a_fault(tmp_path):
    codes: dict[str, int] = {}
    for name, data in damaged_archives().items():
        path = tmp_path / name
        path.write_bytes(data)
        try:
            read_file(path, PERSON, now_utc=NOW)
            code = "read"
        except FileRefused as trouble:
            code = trouble.code
        except FileWaits:
            code = "waits"
        codes[code] = codes.get(code, 0) + 1
    assert sum(codes.values()) > 300
    assert codes["packing_broken"] > 80
    assert "reading_failed" not in codes


def test_what_the_starting_program_holds_does_not_count_as_the_reading_process_own(tmp_path):
    """After a large parent every file would else start a process of its own, a second of work each."""
    path = tmp_path / "good.xlsx"
    path.write_bytes(good_workbook())
    held = bytearray(b"x") * 600_000_000  # more than the share of memory after which a process goes
    reading_process.close()
    seen = set()
    for _ in range(3):
        read_file(path, PERSON, now_utc=NOW)
        seen.add(reading_process.pid)
    assert held[-1]
    assert len(seen) == 1
