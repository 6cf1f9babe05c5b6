"""Nights of the service in processes that are killed: import, findings, report, delivery.

Reads lines `HOME NOW_ISO SECONDS`; for each a child runs that night, killed after so many seconds (0: never). Answers
`whole SECONDS` or `killed SECONDS`, the seconds the child lived. The libraries are loaded once, before the first
child: a kill falls into the work itself.
"""

import os
import signal
import sys
import time
from datetime import datetime
from pathlib import Path

import gramrise.detect
import gramrise.estimate
import gramrise.intake
import gramrise.nightly.mail.weekly
import gramrise.report.weekly.pages.mail  # noqa: F401 - all loaded before the work begins
from gramrise.nightly.night import run_night
from gramrise.store import Store


def one_night(home: Path, now_utc: datetime) -> None:
    with Store.open(home) as store:
        run_night(store, home, now_utc)


def lived(child: int, kill_after: float) -> tuple[str, float]:
    """Waits for a child, and kills it when its time is over; how it ended and after how long."""
    begun = time.monotonic()
    while os.waitpid(child, os.WNOHANG) == (0, 0):
        if kill_after and time.monotonic() - begun >= kill_after:
            os.kill(child, signal.SIGKILL)  # not waited for yet, so the number is still this child's
            _, status = os.waitpid(child, 0)
            return "killed" if os.WIFSIGNALED(status) else "whole", time.monotonic() - begun
        time.sleep(0.001)
    return "whole", time.monotonic() - begun


def main() -> None:
    for line in sys.stdin:
        home, now, kill_after = line.split()
        child = os.fork()
        if child == 0:
            one_night(Path(home), datetime.fromisoformat(now))
            os._exit(0)
        how, seconds = lived(child, float(kill_after))
        sys.stdout.write(f"{how} {seconds:.4f}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
