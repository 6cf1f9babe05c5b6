"""A file whose readings stand between the known ones waits where they are others; one sensor told anew does not."""

from datetime import timedelta

import pytest
from support.nightly_home import START

from gramrise.intake import FileWaits
from gramrise.nightly import take_in_file

NOW = START + timedelta(days=1)


def level(minute):
    """A trace that swings between 90 and 170 in four hours."""
    swing = abs((minute % 240) - 120) / 120
    return 90 + 80 * swing


def trace(home, name, minutes, apart=0.0):
    lines = [f"{(START + timedelta(minutes=at)).isoformat()},{level(at) + apart:.0f}" for at in minutes]
    file = home / name
    file.write_text("time,glucose (mg/dL)\n" + "\n".join(lines) + "\n", "utf-8")
    return file


@pytest.fixture
def known(store, home):
    take_in_file(store, home, store.person("mia"), trace(home, "a.csv", range(0, 600, 5)), NOW)
    return store


def bring(store, home, file, **more):
    return take_in_file(store, home, store.person("mia"), file, NOW, **more)


def test_another_sensors_readings_two_minutes_off_wait_and_land_when_said_to_be_right(known, home):
    other = trace(home, "b.csv", range(2, 600, 5), apart=25)
    with pytest.raises(FileWaits, match="stand between those known of mia") as waits:
        bring(known, home, other)
    assert waits.value.code == "between_known"
    assert known.inputs("mia").readings.height == 120
    assert bring(known, home, other, replace=True).rows == 120
    assert [each.question.kind for each in known.questions("mia")] == ["replaced_readings"]


def test_a_new_sensor_twelve_higher_waits_at_a_high_level_too(known, home):
    with pytest.raises(FileWaits, match="a new sensor began"):
        bring(known, home, trace(home, "b.csv", range(2, 600, 5), apart=12))


@pytest.mark.parametrize(("apart", "waits"), [(2, True), (-2, True), (4, True), (0, False), (1, False)])
def test_a_second_sensor_that_is_worn_at_the_same_time_waits_however_near_it_lies(known, home, apart, waits):
    """Two to eight mg/dL higher every other reading hid five to nine of ten lows."""
    other = trace(home, "b.csv", range(2, 600, 5), apart=apart)
    if waits:
        with pytest.raises(FileWaits, match="stand between those known of mia"):
            bring(known, home, other)
    else:
        assert bring(known, home, other).rows == 120


def test_a_file_of_which_too_few_stand_between_lands(known, home):
    few = trace(home, "b.csv", [*range(2, 90, 5), *range(600, 800, 5)], apart=25)
    assert bring(known, home, few).rows == 58


@pytest.mark.parametrize(
    ("minutes", "rows"),
    [
        (range(2, 600, 5), 120),
        (range(1, 600, 5), 120),  # the same readings, a minute later
        ([at + 0.5 for at in range(0, 600, 5)], 120),  # told with other seconds
        (range(600), 480),
        (range(7, 600, 15), 40),
    ],
)
def test_the_same_trace_told_for_other_minutes_lands(known, home, minutes, rows):
    assert bring(known, home, trace(home, "b.csv", minutes)).rows == rows


def test_what_comes_after_the_known_lands(known, home):
    assert bring(known, home, trace(home, "b.csv", range(600, 900, 5), apart=25)).rows == 60
