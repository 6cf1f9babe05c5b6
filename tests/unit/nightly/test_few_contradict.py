"""A few readings for known times wait where nearly all are others by far; a calibration or a slip of the pen lands."""

from datetime import timedelta

import pytest
from support.nightly_home import START

from gramrise.intake import FileWaits
from gramrise.nightly import take_in_file

NOW = START + timedelta(days=1)
KNOWN = [90 - at % 9 for at in range(60)]


def trace(home, name, values):
    lines = [f"{(START + timedelta(minutes=5 * at)).isoformat()},{value}" for at, value in enumerate(values)]
    file = home / name
    file.write_text("time,sensor glucose (mg/dL)\n" + "\n".join(lines) + "\n", "utf-8")
    return file


@pytest.fixture
def known(store, home):
    take_in_file(store, home, store.person("mia"), trace(home, "a.csv", KNOWN), NOW)
    return store


def bring(store, home, values, **more):
    return take_in_file(store, home, store.person("mia"), trace(home, "b.csv", values), NOW, **more)


@pytest.mark.parametrize("readings", [3, 12, 19])
def test_a_few_readings_that_are_all_far_from_those_known_wait_and_land_when_said_to_be_right(known, home, readings):
    others = [value + 170 for value in KNOWN[:readings]]
    with pytest.raises(FileWaits, match=f"{readings} of the {readings} readings it has for times known") as waits:
        bring(known, home, others)
    assert waits.value.code == "contradicts"
    assert known.inputs("mia").readings["glucose_mg_dl"].to_list() == KNOWN
    assert bring(known, home, others, replace=True).rows == readings


@pytest.mark.parametrize(
    ("values", "corrected"),
    [
        ([value + 170 for value in KNOWN[:2]], 2),
        ([value + 18 for value in KNOWN[:19]], 19),
        ([value + (170 if at in (4, 9) else 0) for at, value in enumerate(KNOWN[:12])], 2),
    ],
)
def test_a_calibration_and_a_slip_or_two_correct_what_is_known(known, home, values, corrected):
    taken = bring(known, home, values)
    assert sum(each.corrected for each in taken.summaries) == corrected
    assert known.inputs("mia").readings["glucose_mg_dl"].to_list()[: len(values)] == values
