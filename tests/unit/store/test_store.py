"""The home, the persons in it, and the findings kept for them."""

import os
import sqlite3
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from polars.testing import assert_frame_equal
from support.store_logs import NIGHT, NOW, batch, child, dose, readings

from gramrise.domain.bands import TimeBand
from gramrise.domain.care_plan import CarePlan, SchoolPlan
from gramrise.domain.findings import Findings
from gramrise.domain.frames import FACTORS, PREDICTIONS
from gramrise.domain.person import Dated, Person
from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery
from gramrise.store import Store, backup, database, restoring


def test_everything_known_of_a_person_comes_back(store):
    bands = (TimeBand("school", time(7, 30), time(16)), TimeBand("home", time(16), time(7, 30)))
    plan = CarePlan(
        standard_grams=9.0,
        below_54_grams=10.0,
        contacts=("Oma 0123", "Praxis"),
        glucagon_where="red bag",
        approved_by="Dr. Beispiel",
        approved_on=date(2026, 1, 5),
        school=SchoolPlan(grams=9.0, staff=("Frau Muster",), kit_expires_on=date(2026, 7, 1)),
    )
    sources = (
        Source("tin", Form.TABLET, 0.92, stated_as=StatedAs.MONOHYDRATE, other_names=("Drops", "🍬")),
        Source("bottle", Form.LIQUID, grams_per_ml=0.25, sealed=False),
    )
    person = Person(
        "tom",
        date(2014, 2, 28),
        Dated(((date(2014, 2, 28), ZoneInfo("Europe/Berlin")), (date(2026, 1, 1), ZoneInfo("America/Denver")))),
        unit=GlucoseUnit.MMOL_L,
        name="Tom Müller",
        sex="boy",
        language="de",
        weights_kg=Dated(((date(2025, 1, 1), 40.1), (date(2026, 1, 1), 43.0))),
        bands=Dated(((date.min, bands),)),
        delivery=Dated(((date(2020, 1, 1), Delivery.INJECTIONS), (date(2025, 6, 1), Delivery.AUTOMATED))),
        target_mg_dl=Dated(((date(2025, 6, 1), 110.0),)),
        sources=Dated(((date(2025, 1, 1), sources),)),
        care_plan=Dated(((date(2026, 1, 5), plan),)),
        log_complete_from=Dated(((date(2026, 2, 1), True), (date(2026, 2, 20), False))),
        starting_table="trials",
    )
    store.save_person(person)
    assert store.person("tom") == person
    assert [each.person_id for each in store.persons()] == ["mia", "tom"]


def test_a_person_without_a_zone_is_refused_and_an_unknown_id_is_named(store):
    with pytest.raises(WrongUse, match="no time zone"):
        store.save_person(replace(child("tom"), zone=Dated()))
    with pytest.raises(WrongUse, match="nobody here has the id 'tom'"):
        store.person("tom")


def test_a_corrected_strength_corrects_the_grams_of_every_dose_from_that_source(store):
    store.take_in(batch(doses=dose()), NOW)
    mia = store.person("mia")
    weaker = (Source("tin", Form.TABLET, 4.0, stated_as=StatedAs.MONOHYDRATE),)
    store.save_person(replace(mia, sources=mia.sources.with_entry(date(2026, 1, 1), weaker)))
    assert store.inputs("mia").doses["grams"].item() == pytest.approx(12.0 * 180.156 / 198.171)
    stronger_later = (Source("tin", Form.TABLET, 5.0, stated_as=StatedAs.ANHYDROUS),)
    store.save_person(replace(mia, sources=mia.sources.with_entry(date(2026, 3, 2), stronger_later)))
    assert store.inputs("mia").doses["grams"].item() == 12.0


def test_home_and_database_can_be_read_by_their_owner_only(home):
    previous = os.umask(0)
    try:
        with Store.open(home) as store:
            store.save_person(child())
            modes = {path.name: path.stat().st_mode & 0o777 for path in (home, *home.iterdir())}
    finally:
        os.umask(previous)
    assert modes.pop(home.name) == 0o700
    assert set(modes.values()) == {0o600}


def test_a_home_is_not_made_where_nobody_asked_for_one(home):
    with pytest.raises(CouldNotRun, match="no database"):
        Store.open(home, create=False)
    assert not home.exists()


def test_a_damaged_database_is_refused_and_left_as_it_is(home):
    Store.open(home).close()
    path = home / "gramrise.db"
    path.write_bytes(b"not a database at all" * 500)
    before = path.read_bytes()
    with pytest.raises(CouldNotRun, match="restore the latest backup") as refusal:
        Store.open(home)
    assert refusal.value.code == "database_damaged"
    assert path.read_bytes() == before


def test_a_database_of_a_newer_gramrise_is_refused(home):
    Store.open(home).close()
    with sqlite3.connect(home / "gramrise.db") as raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")
    raw.close()
    with pytest.raises(CouldNotRun, match="newer gramrise"):
        Store.open(home)


def test_the_migrations_lead_to_the_tables_the_code_speaks_of(home):
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext
    from alembic.script import ScriptDirectory

    from gramrise.store.schema import METADATA

    with Store.open(home) as store, store.reading() as connection:
        assert compare_metadata(MigrationContext.configure(connection), METADATA) == []
        stored = connection.exec_driver_sql("SELECT sql FROM sqlite_master WHERE name = 'readings'").scalar_one()
    assert "WITHOUT ROWID" in stored
    assert ScriptDirectory(str(database.MIGRATIONS)).get_current_head() == database.NEWEST_STEP


def test_findings_come_back_as_they_were_saved(store):
    assert store.findings("mia") is None
    factor = ("mia", "daytime", NOW, 32.0, 9.0, 6.0, 13.0, 9.9, 288.0, 4, "thin", 0.2, 0.1, 0.45)
    prediction = ("mia", NIGHT, 30, 95.0, 70.0, 120.0, None, None)
    found = Findings(
        NOW,
        factors=pl.DataFrame([factor], schema=FACTORS.schema, orient="row"),
        predictions=pl.DataFrame([prediction], schema=PREDICTIONS.schema, orient="row"),
        log_next="insulin",
    )
    assert store.save_findings("mia", found, as_shown=True)
    back = store.findings("mia")
    assert (back.as_of_utc, back.log_next, back.model_version) == (NOW, "insulin", found.model_version)
    for name in ("lows", "treatments", "pairings", "paths", "factors", "predictions"):
        assert_frame_equal(getattr(back, name), getattr(found, name))
    assert store.findings_are_current("mia")


def test_what_a_night_showed_stays_when_the_numbers_are_computed_again(store):
    def night(at, predicted):
        row = ("mia", NIGHT, 30, predicted, 70.0, 120.0, None, None)
        return Findings(at, predictions=pl.DataFrame([row], schema=PREDICTIONS.schema, orient="row"))

    store.save_findings("mia", night(NOW, 95.0), as_shown=True)
    store.save_findings("mia", night(datetime(2026, 3, 9, tzinfo=UTC), 99.0), as_shown=True)
    _, predictions = store.shown("mia")
    assert predictions["predicted_mg_dl"].to_list() == [95.0]
    assert store.findings("mia").predictions["predicted_mg_dl"].to_list() == [99.0]


def test_what_was_shown_by_a_night_is_found_by_its_instant(store):
    def night(at, factor):
        row = ("mia", "daytime", at, 32.0, factor, 6.0, 13.0, 9.9, 288.0, 4, "thin", 0.2, 0.1, 0.45)
        return Findings(at, factors=pl.DataFrame([row], schema=FACTORS.schema, orient="row"))

    later = NOW + timedelta(days=7)
    store.save_findings("mia", night(NOW, 9.0), as_shown=True)
    store.save_findings("mia", night(later, 8.0), as_shown=True)
    assert store.shown_by("mia", NOW - timedelta(minutes=1)) is None
    assert store.shown_by("mia", later - timedelta(minutes=1)).factors["factor_mg_dl_per_g"].to_list() == [9.0]
    assert store.shown_by("mia", later).factors["factor_mg_dl_per_g"].to_list() == [8.0]


def test_findings_from_inputs_that_changed_meanwhile_are_not_saved(store):
    _, version = store.inputs_and_version("mia")
    store.take_in(batch(readings=readings([90])), NOW)
    assert not store.save_findings("mia", Findings(NOW), inputs_version=version)
    assert store.findings("mia") is None


def test_changing_a_fact_makes_the_findings_stale(store):
    store.save_findings("mia", Findings(NOW))
    store.save_person(child(kg=33.0))
    assert not store.findings_are_current("mia")


def test_a_forgotten_person_leaves_nothing_behind(store, home):
    store.save_person(replace(child("tom"), name="Tom Unverwechselbar"))
    store.take_in(batch(person_id="tom", readings=readings([90], person_id="tom"), doses=dose(person_id="tom")), NOW)
    store.save_findings("tom", Findings(NOW))
    store.forget("tom")
    assert [each.person_id for each in store.persons()] == ["mia"]
    for file in home.iterdir():
        assert b"Unverwechselbar" not in file.read_bytes()


def test_a_backup_taken_while_the_store_is_open_restores_everything(store, home, tmp_path):
    store.take_in(batch(readings=readings([90, 80])), NOW)
    copy = tmp_path / "copy.db"
    backup.write_backup(home, copy)
    store.take_in(batch("h2", readings=readings([90, 80, 70])), NOW)
    store.close()
    kept = restoring.restore_backup(home, copy)
    assert kept.exists()
    with Store.open(home) as restored:
        assert restored.inputs("mia").readings["glucose_mg_dl"].to_list() == [90, 80]
    assert copy.stat().st_mode & 0o777 == 0o600


def test_what_is_no_database_is_not_restored_and_the_mend_is_another_file(store, home, tmp_path):
    for name, text in (("letter.db", "Dear Sir or Madam, " * 300), ("empty.db", "")):
        (tmp_path / name).write_text(text)
        with pytest.raises((CouldNotRun, WrongUse), match="nothing was changed") as refusal:
            restoring.restore_backup(home, tmp_path / name)
        assert name in str(refusal.value)
        assert "name another file written by `gramrise backup`" in str(refusal.value)
        assert "latest" not in str(refusal.value)


def test_a_backup_into_a_folder_that_is_not_there_names_that_folder(store, home, tmp_path):
    with pytest.raises(WrongUse, match=r"there is no folder .*/nowhere to write the copy into"):
        backup.write_backup(home, tmp_path / "nowhere" / "copy.db")


@pytest.mark.in_a_file
def test_a_damaged_database_is_not_copied_over_a_backup_nor_a_damaged_backup_over_the_database(store, home, tmp_path):
    copy = tmp_path / "copy.db"
    backup.write_backup(home, copy)
    with pytest.raises(WrongUse, match="there already"):
        backup.write_backup(home, copy)
    whole = copy.read_bytes()
    copy.write_bytes(whole[: len(whole) // 2] + b"x" * 3000)
    with pytest.raises(CouldNotRun, match="damaged"):
        restoring.restore_backup(home, copy)
    assert store.person("mia") == child()
