"""kill -9 at many random moments over import, findings, report and delivery.

Run: python tests/benchmark/nightly_kills.py [KILLS]      (200 unless said otherwise)
The check is the one of tests/end_to_end/test_kill_anywhere.py, with more moments.
"""

import os
import sys
from pathlib import Path

import pytest


def main() -> None:
    kills = sys.argv[1] if len(sys.argv) > 1 else "200"
    os.environ["GRAMRISE_KILLS"] = kills
    test = Path(__file__).parents[1] / "end_to_end" / "test_kill_anywhere.py"
    failed = pytest.main([str(test), "-q", "-k", "killed_anywhere", "--timeout", "7200", "-p", "no:randomly"])
    verdict = "FALLS SHORT" if failed else "holds"
    print(f"killed at {kills} moments, then run again: state as if undisturbed, every report delivered / {verdict}")


if __name__ == "__main__":
    main()
