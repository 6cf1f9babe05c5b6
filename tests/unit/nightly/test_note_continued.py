"""A note without days that is written on: last night's lines never count as tonight's."""

import os
from datetime import timedelta

import pytest
from support.nightly_home import START, drop

from gramrise.nightly import run_night

NIGHT = START + timedelta(days=1)


def saved(home, text: str, at) -> None:
    os.utime(drop(home, "mia", "night.txt", text), (at.timestamp(), at.timestamp()))


@pytest.mark.parametrize("more", ["03:40 20 g\n", ""])
def test_a_note_written_on_in_the_next_night_waits_with_the_reason(store, home, more):
    saved(home, "02:10 10 g\n", NIGHT)
    run_night(store, home, NIGHT + timedelta(hours=1))
    assert store.inputs("mia").doses.height == 1
    saved(home, f"02:10 10 g\n\n{more}", NIGHT + timedelta(days=1))
    night = run_night(store, home, NIGHT + timedelta(days=1, hours=1))
    assert store.inputs("mia").doses.height == 1
    assert "stand in it again" in " ".join(night.held)


def test_a_note_with_its_days_is_written_on_as_long_as_one_likes(store, home):
    first, second = (f"{NIGHT + timedelta(days=at):%Y-%m-%d}" for at in (0, 1))
    saved(home, f"{first}\n02:10 10 g\n", NIGHT)
    run_night(store, home, NIGHT + timedelta(hours=5))
    saved(home, f"{first}\n02:10 10 g\n{second}\n02:10 10 g\n", NIGHT + timedelta(days=1))
    assert not run_night(store, home, NIGHT + timedelta(days=1, hours=5)).held
    assert store.inputs("mia").doses.height == 2


def test_of_two_files_of_one_night_the_one_saved_later_counts_whatever_they_are_called(store, home):
    for name, amount, hours in (("log.csv", 10, 0), ("log (1).csv", 20, 1)):
        at = NIGHT + timedelta(hours=hours)
        file = drop(home, "mia", name, f"time,grams\n2026-03-02 02:10,{amount}\n")
        os.utime(file, (at.timestamp(), at.timestamp()))
    run_night(store, home, NIGHT + timedelta(hours=9))
    assert store.inputs("mia").doses["grams"].to_list() == [20.0]
