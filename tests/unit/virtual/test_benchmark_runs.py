"""The benchmark of the factor runs, and says what it could not run."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parents[2] / "benchmark" / "factors.py"
SMALL = ("--persons", "2", "--seeds", "1", "--days", "25", "--physiology", "second", "--no-pool")


@pytest.mark.slow
def test_a_bar_without_its_data_says_not_run_and_the_others_are_measured() -> None:
    blind = {name: value for name, value in os.environ.items() if name != "GRAMRISE_OUTSIDE_DATA"}
    done = subprocess.run([sys.executable, str(SCRIPT), *SMALL], env=blind, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0].startswith("persons 2 a physiology, 25 days, seeds 1")
    for outside in ("injection into real traces", "placebo on complete logs"):
        assert any(line.startswith(outside) and "NOT RUN" in line for line in lines)
    measured = [line for line in lines if "90 % intervals cover" in line]
    assert {"not" in line.split(";")[0] for line in measured} == {True, False}  # with and without insulin logged
    assert all("holds" in line or "FALLS SHORT" in line for line in measured)
