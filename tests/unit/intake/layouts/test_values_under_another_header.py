"""Values that stand under a header which is not theirs: a table of too much insulin waits."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from support.variants import NOW, PERSON

from gramrise.domain.person import Dated
from gramrise.intake import FileWaits, read_file

START = datetime(2026, 3, 13, 8)  # noqa: DTZ001 - a wall clock
HEAVY = replace(PERSON, weights_kg=Dated(((date(2026, 1, 1), 84.0),)))


def read(tmp_path, insulin, person=PERSON):
    path = tmp_path / "log.csv"
    path.write_text("\n".join(["time,insulin units", *insulin]) + "\n", "utf-8")
    return read_file(path, person, now_utc=NOW)[0].events["amount"].to_list()


def at(hours, amount):
    return f"{START + timedelta(hours=hours):%Y-%m-%d %H:%M},{amount}"


def test_readings_that_go_on_behind_a_table_of_insulin_are_not_taken_for_insulin(tmp_path):
    readings = [f"{START + timedelta(minutes=5 * n):%Y-%m-%d %H:%M},{60 + n}" for n in range(30)]
    lines = ["time,glucose (mg/dL)", *readings[:10], "", "time,insulin units", at(5, 2), at(6, 3), "", *readings[10:]]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines) + "\n", "utf-8")
    with pytest.raises(FileWaits) as waits:
        read_file(path, PERSON, now_utc=NOW)
    assert waits.value.code == "insulin_unlikely"


def test_three_large_amounts_of_insulin_wait_unless_the_person_is_known_to_be_heavy(tmp_path):
    large = [at(n, 31 + n) for n in range(3)]
    with pytest.raises(FileWaits, match="3 of its amounts of insulin under 'insulin units'"):
        read(tmp_path, large)
    assert read(tmp_path, large, HEAVY) == [31.0, 32.0, 33.0]


@pytest.mark.parametrize("amounts", [(31, 32, 4), (30, 30, 30, 30), (2.5, 4, 12)])
def test_single_large_amounts_of_insulin_are_read(tmp_path, amounts):
    assert read(tmp_path, [at(n, amount) for n, amount in enumerate(amounts)]) == [float(one) for one in amounts]
