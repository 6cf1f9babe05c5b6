"""How fast a large table is read, against polars' own read of the same file, and how much memory it takes.

    python tests/benchmark/import_rows.py [ROWS]

Times are CPU seconds, so that other work on the machine does not tell; each is the best of three runs, a process each.
Bars of the design: at most 4 times polars' own read; memory bounded by the block. The second part of that bar,
storing at half the rate of a bare bulk insert or faster, is measured where the store is.
"""

import resource
import subprocess
import sys
import tempfile
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

ROWS = 10_000_000
TIMES_POLARS = 4.0
# What a block may hold in memory beside the program itself, in blocks: text, cells, times, frames. Our choice.
BLOCKS_HELD = 14


def write_table(path: Path, rows: int) -> None:
    """A table of `rows` readings a minute apart, in local time of a zone without changes of clock, under a preamble."""
    import polars as pl

    with path.open("wb") as opened:
        opened.write(b"Kept by the family\nprinted for the kitchen\n\ntime,glucose (mg/dL),note\n")
        start = datetime(2004, 1, 1)  # noqa: DTZ001 - wall-clock values
        for at in range(0, rows, 500_000):
            count = min(500_000, rows - at)
            times = pl.datetime_range(
                start + timedelta(minutes=at), start + timedelta(minutes=at + count - 1), "1m", eager=True
            )
            level = 120 + (pl.Series(range(at, at + count)) * 7919 % 160) - 70
            frame = pl.DataFrame({"t": times.dt.to_string("%Y-%m-%d %H:%M:%S"), "g": level, "n": [""] * count})
            opened.write(frame.write_csv(include_header=False).encode())


def polars_alone(path: str) -> None:
    import polars as pl

    pl.read_csv(path, skip_lines=3, infer_schema=False)


def intake(path: str) -> None:
    from gramrise.domain.person import Dated, Person
    from gramrise.intake import read_batches

    person = Person("P1", date(1990, 1, 1), Dated(((date(1990, 1, 1), ZoneInfo("Etc/GMT-1")),)))
    rows = 0
    for batch in read_batches(Path(path), person, now_utc=datetime(2026, 6, 1, tzinfo=UTC)):
        rows += batch.readings.height
        assert not batch.quarantine
    print("rows", rows)


def nothing(_path: str) -> None:
    import polars as pl

    import gramrise.intake

    assert pl
    assert gramrise.intake


def measured(which: str, path: Path) -> tuple[float, float, str]:
    """CPU seconds, peak MB and output of one measurement in a process of its own."""
    run = subprocess.run(
        [sys.executable, __file__, "--one", which, str(path)], capture_output=True, text=True, check=True
    )
    seconds, peak, *told = run.stdout.split("\n")
    return float(seconds), float(peak), " ".join(told)


def one(which: str, path: str) -> None:
    work = {"polars": polars_alone, "intake": intake, "nothing": nothing}[which]
    nothing(path)
    begun = time.process_time()
    sys.stdout, kept = sys.stderr, sys.stdout
    work(path)
    sys.stdout = kept
    print(time.process_time() - begun)
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)


def main() -> None:
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else ROWS
    from gramrise.intake import load_settings

    block = load_settings().block_bytes / 1e6
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "table.csv"
        write_table(path, rows)
        bare = min(measured("polars", path)[0] for _ in range(3))
        seconds, peak, _ = min(measured("intake", path) for _ in range(3))
        _, idle, _ = measured("nothing", path)
    ratio, held = seconds / bare, (peak - idle) / block
    print(f"{rows} rows, {path.name}: polars alone {bare:.2f} s CPU, intake {seconds:.2f} s CPU, peak {peak:.0f} MB")
    print("| what | measured | bar | |")
    print("| --- | --- | --- | --- |")
    told = verdict(ratio <= TIMES_POLARS)
    print(f"| import of {rows} rows, times polars' own read | {ratio:.2f} | {TIMES_POLARS} | {told} |")
    print(f"| memory, in blocks of {block:.0f} MB | {held:.1f} | {BLOCKS_HELD} | {verdict(held <= BLOCKS_HELD)} |")


def verdict(holds: bool) -> str:
    return "holds" if holds else "FALLS SHORT"


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        one(sys.argv[2], sys.argv[3])
    else:
        main()
