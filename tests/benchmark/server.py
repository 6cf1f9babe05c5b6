"""The same nights and imports with the rows in a file and on a PostgreSQL server of this machine, and kills there.

Run: python tests/benchmark/server.py [PERSONS] [--kills N]    (12 persons, no kills unless said otherwise; 200 asked)
The server syncs its commits, as a clinic's does. A night is three nights' median; the bar is 1.5 times the file's.
Where the machine has more to do than cores, each answer of the server waits for its turn: then compare CPU.
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import sys
import tempfile
import time
from pathlib import Path
from statistics import median

import tests_on_path  # noqa: F401 - support and virtual lie in tests
from many_persons import home_of
from support.postgres import programs, running_server
from support.store_logs import child

from gramrise.nightly import run_night
from gramrise.store import Store

BAR = 1.5
NIGHTS = 3
ROWS = 200_000


def cpu_of(server) -> float:
    """CPU seconds of a server's programs so far, those that have ended among them."""
    first = int((server.folder / "data" / "postmaster.pid").read_text().split()[0])
    spent = 0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            told = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if first in {int(stat.parent.name), int(told[1])}:
            spent += sum(int(ticks) for ticks in (told[11:15] if int(stat.parent.name) == first else told[11:13]))
    return spent / os.sysconf("SC_CLK_TCK")


def nights(persons: int, database, server=None) -> tuple[float, float]:
    """Median wall and CPU seconds of a night over homes made for it; the CPU of both ends of the line."""
    took, spent = [], []
    for _ in range(NIGHTS):
        with tempfile.TemporaryDirectory() as folder:
            home, now = home_of(Path(folder), persons, 30, database())
            with Store.open(home) as store:
                begun, at_work = time.perf_counter(), time.process_time() + (cpu_of(server) if server else 0)
                night = run_night(store, home, now)
                took.append(time.perf_counter() - begun)
                spent.append(time.process_time() + (cpu_of(server) if server else 0) - at_work)
            assert (night.persons, night.failed) == (persons, 0), night.held[:3]
    return median(took), median(spent)


def rows_a_second(database: str | None) -> float:
    """Readings stored a second, of one batch of a quarter of a million."""
    from support.store_logs import NOW, batch, readings

    values = [100 + n % 50 for n in range(ROWS)]
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder), database) as store:
        store.save_person(child())
        told = batch(readings=readings(values))
        begun = time.perf_counter()
        store.take_in(told, NOW)
        return ROWS / (time.perf_counter() - begun)


def main() -> None:
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    kills = numbers.pop() if "--kills" in sys.argv else 0
    persons = numbers[0] if numbers else 12
    if programs() is None:
        print("PostgreSQL beside the file / NOT RUN (no server programs on this machine)")
        return
    with running_server("") as server:
        nights(2, lambda: None)  # libraries are loaded and compiled once
        file, on_server = nights(persons, lambda: None), nights(persons, server.new_database, server)
        for what, one, other in zip(("wall", "CPU"), file, on_server, strict=True):
            ratio = other / one
            holds = "holds" if ratio <= BAR else "FALLS SHORT"
            told = f"file {one:.2f} s, server {other:.2f} s: {ratio:.2f}"
            print(f"a night of {persons}, {what}: {told} / bar {BAR} / {holds}", flush=True)
        print(f"rows a second: file {rows_a_second(None):,.0f}, server {rows_a_second(server.new_database()):,.0f}")
    if kills:
        import pytest

        os.environ["GRAMRISE_KILLS"] = str(kills)
        test = Path(__file__).parents[1] / "end_to_end" / "test_on_a_server.py"
        failed = pytest.main([str(test), "-q", "-k", "killed_anywhere", "--timeout", "14400"])
        print(f"killed at {kills} moments on a server, then run again / {'FALLS SHORT' if failed else 'holds'}")
    else:
        print("200 kills on a server / NOT RUN (say --kills 200)")


if __name__ == "__main__":
    main()
