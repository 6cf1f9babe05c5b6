"""How fast a long file of FHIR records, one a line, is read, and that its memory is bounded by the block.

    python tests/benchmark/import_records.py [MEGABYTES]

Two processes read a file of a quarter of the size and one of the whole; the bar is on the growth between the two.
"""

import resource
import subprocess
import sys
import tempfile
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

MEGABYTES = 500
# What the larger file may hold in memory beyond the smaller one, in blocks. Our choice: none of it grows with the file.
BLOCKS_MORE = 2.0
LINE = (
    '{{"resourceType":"Observation","id":"r{n}","meta":{{"lastUpdated":"{at}"}},"status":"final","code":{{"coding":'
    '[{{"system":"http://loinc.org","code":"99504-3"}}]}},"subject":{{"reference":"Patient/p1"}},'
    '"effectiveDateTime":"{at}","valueQuantity":{{"value":{mg_dl},"unit":"mg/dL","system":'
    '"http://unitsofmeasure.org","code":"mg/dL"}}}}\n'
)


def write_records(path: Path, megabytes: float) -> int:
    """Readings a minute apart; how many."""
    start = datetime(2004, 1, 1, tzinfo=UTC)
    written, records = 0, 0
    with path.open("w", encoding="utf-8") as opened:
        while written < megabytes * 1e6:
            at = (start + timedelta(minutes=records)).strftime("%Y-%m-%dT%H:%M:%SZ")
            written += opened.write(LINE.format(n=records, at=at, mg_dl=50 + records * 7919 % 160))
            records += 1
    return records


def read(path: str) -> None:
    """Reads a file in pieces; prints rows, CPU seconds and the peak of memory in MB."""
    from gramrise.domain.person import Dated, Person
    from gramrise.intake import read_batches

    person = Person("p1", date(1990, 1, 1), Dated(((date(1990, 1, 1), ZoneInfo("Etc/GMT-1")),)))
    rows, began = 0, time.process_time()
    for batch in read_batches(Path(path), person, now_utc=datetime(2026, 6, 1, tzinfo=UTC)):
        rows += batch.readings.height
        assert not batch.quarantine
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(rows, time.process_time() - began, peak)


def measured(path: Path) -> tuple[int, float, float]:
    """Rows, CPU seconds and peak MB of a process that reads the file."""
    told = subprocess.run(
        [sys.executable, __file__, "--read", str(path)], check=True, capture_output=True, text=True
    ).stdout.split()
    return int(told[0]), float(told[1]), float(told[2])


def main(megabytes: float) -> bool:
    """Prints the table; whether the bar holds."""
    from gramrise.intake import load_settings

    block = load_settings().block_bytes / 1e6
    with tempfile.TemporaryDirectory() as folder:
        peaks = []
        for size in (megabytes / 4, megabytes):
            path = Path(folder) / "records.ndjson"
            wanted = write_records(path, size)
            rows, seconds, peak = measured(path)
            assert rows == wanted, (rows, wanted)
            peaks.append(peak)
            speed = f"{seconds:6.1f} s CPU  {size / seconds:4.1f} MB/s"
            print(f"{size:7.0f} MB  {rows:9,} records  {speed}  peak {peak:6.0f} MB")
    more = (peaks[1] - peaks[0]) / block
    verdict = "holds" if more <= BLOCKS_MORE else "FALLS SHORT"
    print(f"memory grew by {more:.1f} blocks of {block:.0f} MB; bar {BLOCKS_MORE}: {verdict}")
    return more <= BLOCKS_MORE


if __name__ == "__main__":
    if sys.argv[1:2] == ["--read"]:
        read(sys.argv[2])
    else:
        sys.exit(0 if main(float(sys.argv[1]) if sys.argv[1:] else MEGABYTES) else 1)
