"""kill -9 at any moment: after the next run everything is as if nothing had happened, and every report is delivered."""

import os
import random
import subprocess
import sys
from pathlib import Path

import pytest
from support.night_state import SUNDAY, copy_of, make_home, state_of

pytestmark = pytest.mark.slow

NIGHTS = Path(__file__).parents[1] / "support" / "cut_off.py"
# Moments tried in the ordinary suite and in the longer one; GRAMRISE_KILLS sets another number (200 in the benchmark).
KILLS, KILLS_SLOW = 2, 5


class Nights:
    """The process whose children are killed."""

    def __init__(self):
        self.server = subprocess.Popen(
            [sys.executable, str(NIGHTS)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def run(self, home, kill_after=0.0):
        """Runs a night, killed after so many seconds; (whether it came to its end, seconds it lived)."""
        self.server.stdin.write(f"{home} {SUNDAY.isoformat()} {kill_after}\n")
        self.server.stdin.flush()
        how, seconds = self.server.stdout.readline().split()
        return how == "whole", float(seconds)

    def close(self):
        self.server.communicate()


@pytest.fixture(scope="module")
def nights():
    running = Nights()
    yield running
    running.close()


@pytest.fixture(scope="module")
def untouched(tmp_path_factory):
    return make_home(tmp_path_factory.mktemp("untouched") / "home")


@pytest.fixture(scope="module")
def undisturbed(nights, untouched, tmp_path_factory):
    """What a night that nobody disturbs leaves, and how long its work takes."""
    warm = copy_of(untouched, tmp_path_factory.mktemp("warm") / "home")
    nights.run(warm)
    home = copy_of(untouched, tmp_path_factory.mktemp("undisturbed") / "home")
    whole, took = nights.run(home)
    assert whole
    return state_of(home), took


def moments(kills, took, seed):
    draw = random.Random(seed)
    return [took * (number + draw.random()) / kills for number in range(kills)]


def check(nights, kills, untouched, undisturbed, tmp_path, seed):
    expected, took = undisturbed
    assert len(expected["mail files"]) == 2
    assert expected["mia"]["treatments"]
    cut = 0
    for number, moment in enumerate(moments(kills, took, seed)):
        home = copy_of(untouched, tmp_path / f"home-{number}")
        cut += not nights.run(home, moment)[0]
        nights.run(home)
        after = state_of(home)
        for part, was in expected.items():
            assert after[part] == was, f"{part} differs after a kill at {moment:.3f} s"
    assert cut  # some come to their end before their moment, on a machine that is faster now than it was


def test_a_night_killed_anywhere_is_completed_by_the_next_run(nights, untouched, undisturbed, tmp_path):
    check(nights, int(os.environ.get("GRAMRISE_KILLS", KILLS)), untouched, undisturbed, tmp_path, seed=1)


def test_a_night_killed_at_many_moments_is_completed_by_the_next_run(nights, untouched, undisturbed, tmp_path):
    check(nights, KILLS_SLOW, untouched, undisturbed, tmp_path, seed=2)


def test_a_night_killed_twice_in_a_row_is_completed_by_the_third_run(nights, untouched, undisturbed, tmp_path):
    expected, took = undisturbed
    home = copy_of(untouched, tmp_path / "home")
    nights.run(home, took * 0.3)
    nights.run(home, took * 0.6)
    nights.run(home)
    assert state_of(home) == expected
