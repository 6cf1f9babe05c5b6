"""What the quick commands cost as whole processes, CPU seconds, on a home with two years of data.

Run: python tests/benchmark/start_up.py [HOME]      (HOME: a folder to keep the home in between runs; else a new one)
`gramrise --help` is held against bare Python by wall time, the others by CPU time: the least of five runs, since what
else the machine does makes CPU time longer too. Beside them stands what a fixed loop took: where it took longer than
usual, the machine was slower.
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

RUNS = 5
DAYS = 730
PERSON = "one"
# Bars of the design: a command that stores or looks up answers while one looks.
MOST_OVER_BARE_PYTHON_MS = 200
MOST_CPU_SECONDS = 0.5
MOST_IMPORT_CPU_SECONDS = 1.0


def make_home(home: Path) -> None:
    """One virtual person's two years in a store, with the findings brought up to date now."""
    import tests_on_path  # noqa: F401 - virtual lies in tests
    from virtual import CohortSpec, cohort

    from gramrise.domain.batch import Batch
    from gramrise.domain.person import Dated
    from gramrise.nightly import run_person
    from gramrise.store import Store

    today = datetime.now(UTC).date()
    inputs = cohort(CohortSpec(seed=5, persons=1, days=DAYS, start=today - timedelta(days=DAYS + 1))).inputs[0]
    weights = Dated(tuple(entry for entry in inputs.person.weights_kg.entries if entry[0] < today))
    person = replace(inputs.person, person_id=PERSON, weights_kg=weights)
    frames = {
        name: getattr(inputs, name).with_columns(person_id=_text(PERSON))
        for name in ("readings", "fingers", "doses", "events")
    }
    with Store.open(home) as store:
        store.save_person(person)
        store.take_in(Batch(PERSON, "history", "history", "plain", 0, **frames), datetime.now(UTC))
        run_person(store, PERSON, datetime.now(UTC), home)


def _text(value: str):
    import polars as pl

    return pl.lit(value)


def day_file(folder: Path, day: int) -> Path:
    """A day of readings after everything that is stored: each call another day and another level."""
    start = datetime.now(UTC).replace(hour=0, minute=0, second=0, microsecond=0) - timedelta(days=1)
    times = [start + timedelta(minutes=5 * n, seconds=day) for n in range(288)]
    rows = [f"{at:%Y-%m-%dT%H:%M:%S}+00:00,{100 + day + n % 40}" for n, at in enumerate(times)]
    file = folder / f"day-{day}.csv"
    file.write_text("\n".join(["time,glucose (mg/dL)", *rows]) + "\n", "utf-8")
    return file


def loop_ms() -> float:
    """CPU milliseconds of a fixed piece of work: how fast the machine is just now."""
    begun = time.process_time()
    sum(n * n for n in range(1_000_000))
    return (time.process_time() - begun) * 1000


def run(*command: str) -> tuple[float, float]:
    """(wall, CPU) seconds of one process. Raises where it says that it could not do it."""
    begun = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    said = process.stderr.read() if process.stderr else b""
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    # 1: done, and something is to be looked at; an error of Python's own ends with 1 too
    if process.returncode not in {0, 1} or b"Traceback" in said:
        raise SystemExit(f"{' '.join(command)} ended with {process.returncode}: {said.decode()}")
    return time.perf_counter() - begun, used.ru_utime + used.ru_stime


def least_cpu(commands: list[list[str]]) -> float:
    """The least CPU seconds of some runs, after one that warms the file cache."""
    return min(run(*command)[1] for command in commands[1:])


def quick_commands(home: Path, folder: Path) -> list[tuple[str, list[list[str]], float]]:
    """Each command's name, the commands of its runs, and its bar in CPU seconds."""

    def same(*words: str) -> list[list[str]]:
        return [_gramrise(home, *words) for _ in range(RUNS + 1)]

    yesterday = datetime.now(UTC) - timedelta(hours=26)
    minutes = [f"{yesterday + timedelta(minutes=n):%Y-%m-%d %H:%M}" for n in range(RUNS + 1)]
    return [
        ("readings --days 1", same("readings", "--days", "1"), MOST_CPU_SECONDS),
        ("lows --days 7", same("lows", "--days", "7"), MOST_CPU_SECONDS),
        ("treatments --days 7", same("treatments", "--days", "7"), MOST_CPU_SECONDS),
        ("pairings --days 7", same("pairings", "--days", "7"), MOST_CPU_SECONDS),
        ("factors", same("factors"), MOST_CPU_SECONDS),
        ("person list", same("person", "list"), MOST_CPU_SECONDS),
        ("give", [_gramrise(home, "give", f"{3 + n} g", "--at", at) for n, at in enumerate(minutes)], MOST_CPU_SECONDS),
        (
            "person weigh",
            [_gramrise(home, "person", "weigh", PERSON, f"{30 + n / 10}kg") for n in range(RUNS + 1)],
            MOST_CPU_SECONDS,
        ),
        (
            "person set --name",
            [_gramrise(home, "person", "set", PERSON, "--name", f"Name {n}") for n in range(RUNS + 1)],
            MOST_CPU_SECONDS,
        ),
        (
            "import of a day",
            [_gramrise(home, "import", str(day_file(folder, n))) for n in range(RUNS + 1)],
            MOST_IMPORT_CPU_SECONDS,
        ),
    ]


def _gramrise(home: Path, *words: str) -> list[str]:
    return [sys.executable, "-m", "gramrise", "--home", str(home), *words]


def main() -> None:
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        home = Path(sys.argv[1]) if len(sys.argv) > 1 else folder / "home"
        if not (home / "gramrise.db").exists():
            make_home(home)
        print(f"{'what':22}{'measured':>12}{'bar':>10}  verdict")
        bare = min(run(sys.executable, "-c", "pass")[0] for _ in range(RUNS))
        over = 1000 * (min(run(sys.executable, "-m", "gramrise", "--help")[0] for _ in range(RUNS)) - bare)
        verdict = "holds" if over <= MOST_OVER_BARE_PYTHON_MS else "FALLS SHORT"
        print(f"{'--help over python':22}{over:9.0f} ms{MOST_OVER_BARE_PYTHON_MS:7} ms  {verdict}")
        for name, commands, bar in quick_commands(home, folder):
            seconds = least_cpu(commands)
            verdict = "holds" if seconds <= bar else "FALLS SHORT"
            print(f"{name:22}{seconds:10.2f} s{bar:8} s  {verdict}")
        print(f"fixed loop: {loop_ms():.0f} ms of CPU")


if __name__ == "__main__":
    main()
