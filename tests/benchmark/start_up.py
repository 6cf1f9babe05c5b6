"""`gramrise --help` against bare Python on this machine, both as whole processes: bar bare Python + 200 ms.

Run: python tests/benchmark/start_up.py
"""

import statistics
import subprocess
import sys
import time

RUNS = 9
MOST_OVER_BARE_PYTHON_MS = 200  # a bar of the design: a command answers while one looks


def seconds(*command: str) -> float:
    """Median wall time of a command, after one run to warm the file cache."""
    taken = []
    for _ in range(RUNS + 1):
        start = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        taken.append(time.perf_counter() - start)
    return statistics.median(taken[1:])


if __name__ == "__main__":
    bare = seconds(sys.executable, "-c", "pass")
    over_ms = 1000 * (seconds(sys.executable, "-m", "gramrise", "--help") - bare)
    verdict = "holds" if over_ms <= MOST_OVER_BARE_PYTHON_MS else "FALLS SHORT"
    print("what             measured                               bar        verdict")
    print(f"gramrise --help  bare Python {1000 * bare:.0f} ms + {over_ms:.0f} ms".ljust(56) + f"<= 200 ms  {verdict}")
