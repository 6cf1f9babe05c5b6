"""A log whose amounts are those known, each as many hours off, waits: read by another clock it would count twice."""

from datetime import timedelta

import pytest
from support.nightly_home import START

from gramrise.intake import FileWaits
from gramrise.nightly import take_in_file

NOW = START + timedelta(days=12)
AT = [timedelta(days=day, hours=hour, minutes=10) for day, hour in enumerate((2, 4, 1, 22, 3, 2))]
PIECES = [3, 2, 4, 1, 3, 2]


def log(home, name, rows):
    lines = [f"{(START + at).isoformat()},candy,{pieces} pieces" for at, pieces in rows]
    file = home / name
    file.write_text("time,source,amount\n" + "\n".join(lines) + "\n", "utf-8")
    return file


@pytest.fixture
def known(store, home):
    rows = list(zip(AT, PIECES, strict=True))
    assert take_in_file(store, home, store.person("mia"), log(home, "a.csv", rows), NOW).rows == 6
    return store


def bring(store, home, rows, **more):
    return take_in_file(store, home, store.person("mia"), log(home, "b.csv", rows), NOW, **more)


def moved(hours, rows=6):
    return [(at + timedelta(hours=hours), pieces) for at, pieces in zip(AT[:rows], PIECES[:rows], strict=True)]


@pytest.mark.parametrize(("hours", "told"), [(-2, "2 h later"), (1, "1 h earlier"), (5.5, "5 h 30 min earlier")])
def test_the_same_amounts_by_another_clock_wait_and_land_when_they_were_given_beside_those(known, home, hours, told):
    with pytest.raises(FileWaits, match=f"the very ones known for {told}") as waits:
        bring(known, home, moved(hours))
    assert waits.value.code == "amounts_by_another_clock"
    assert known.inputs("mia").doses.height == 6
    assert bring(known, home, moved(hours), replace=True).rows == 6


def test_four_amounts_are_enough_and_later_ones_that_nobody_knew_hide_nothing(known, home):
    later = [(timedelta(days=day, hours=2), 5) for day in (7, 8, 9)]
    with pytest.raises(FileWaits, match="4 of its amounts"):
        bring(known, home, [*moved(-2)[2:], *later])


@pytest.mark.parametrize(
    ("rows", "then"),
    [
        ([*moved(0), (timedelta(days=7, hours=2), 5)], 7),
        (moved(-2, rows=3), 9),
        ([(at + timedelta(hours=-2), pieces + 1) for at, pieces in zip(AT, PIECES, strict=True)], 12),
        ([(at + timedelta(hours=-2 - day), 3) for day, at in enumerate(AT)], 12),
        (moved(24 * 6), 12),
    ],
)
def test_the_same_log_again_fewer_amounts_other_ones_or_another_week_land(known, home, rows, then):
    bring(known, home, rows)
    assert known.inputs("mia").doses.height == then
