"""A person taken out: brought in elsewhere the findings are equal, and the plain tables are read by anything."""

import csv
from datetime import timedelta

import pytest
from polars.testing import assert_frame_equal
from support.night_state import SUNDAY, make_home

from gramrise.domain.problems import WrongUse
from gramrise.nightly import bring_in_person, current_findings, export_person, run_night, take_in_file
from gramrise.store import TOOK_OUT, Store

FRAMES = ("lows", "treatments", "pairings", "factors", "predictions", "courses", "paths")


@pytest.fixture(scope="module")
def exported(tmp_path_factory):
    """(home, folder) of a family after a night, one child of it taken out."""
    home = make_home(tmp_path_factory.mktemp("exported") / "home")
    with Store.open(home) as store:
        run_night(store, home, SUNDAY)
        export_person(store, "mia", home.parent / "mia", SUNDAY)
    return home, home.parent / "mia"


def test_brought_in_elsewhere_a_person_has_equal_findings(exported, tmp_path):
    home, folder = exported
    with Store.open(home) as store, Store.open(tmp_path / "elsewhere") as other:
        assert bring_in_person(other, folder, SUNDAY) == "mia"
        assert other.person("mia") == store.person("mia")
        here, there = (current_findings(each, "mia", SUNDAY) for each in (store, other))
        assert here.treatments.height
        for name in FRAMES:
            assert_frame_equal(getattr(there, name), getattr(here, name), check_exact=True)
        assert [f.equals(g) for f, g in zip(store.shown("mia"), other.shown("mia"), strict=True)] == [True, True]


def test_the_plain_tables_alone_are_taken_in_and_tell_the_same(exported, tmp_path):
    home, folder = exported
    with Store.open(home) as store, Store.open(tmp_path / "elsewhere") as other:
        other.save_person(store.person("mia"))
        for name in ("readings.csv", "glucose-given.csv"):
            taken = take_in_file(other, tmp_path, other.person("mia"), folder / name, SUNDAY)
            assert (taken.quarantine, taken.questions_n) == ([], 0), name
        here, there = store.inputs("mia"), other.inputs("mia")
        assert_frame_equal(
            there.readings.select("at_utc", "glucose_mg_dl", "range"),
            here.readings.select("at_utc", "glucose_mg_dl", "range"),
        )
        columns = ("taken_at_utc", "source", "amount", "amount_unit", "grams")
        assert_frame_equal(there.doses.select(columns), here.doses.select(columns))


def test_what_is_written_is_the_owners_alone_and_stands_in_the_trail(exported):
    home, folder = exported
    assert folder.stat().st_mode & 0o077 == 0
    assert [file.name for file in folder.iterdir() if file.stat().st_mode & 0o077] == []
    with (folder / "readings.csv").open(encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    assert list(rows[0]) == ["time", "glucose (mg/dL)"]
    assert rows[0]["time"].endswith("Z")
    with Store.open(home) as store:
        assert [each.what for each in store.trail.entries("mia") if each.did == TOOK_OUT] == ["export"]


def test_nothing_is_overwritten_and_what_is_no_export_is_told(exported, tmp_path):
    home, folder = exported
    with Store.open(home) as store:
        with pytest.raises(WrongUse, match="there already"):
            export_person(store, "mia", folder, SUNDAY + timedelta(days=1))
        with pytest.raises(WrongUse, match=r"no readable person\.json"):
            bring_in_person(store, tmp_path, SUNDAY)
        with pytest.raises(WrongUse, match="has the id 'mia'"):
            bring_in_person(store, folder, SUNDAY)
