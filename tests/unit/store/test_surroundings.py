"""The disk full, two imports at once, another program holding the database, a migration from older tables."""

import sqlite3
import threading
from contextlib import contextmanager
from datetime import timedelta

import polars as pl
import pytest
from sqlalchemy import event
from support.store_logs import NIGHT, NOW, batch, child, dose, readings

from gramrise.domain.findings import Findings
from gramrise.domain.frames import PATHS
from gramrise.domain.problems import CouldNotRun
from gramrise.store import Store, database
from gramrise.store.runs import DONE, NIGHTLY, PersonRun


@contextmanager
def full_disk(store, pages_left):
    """The database may grow by so many pages of 4096 bytes and no more, as on a disk that is full."""
    with store.reading() as connection:
        now = connection.exec_driver_sql("PRAGMA page_count").scalar_one()

    def limited(driver, _record):
        driver.execute(f"PRAGMA max_page_count={now + pages_left}")

    event.listen(store.engine, "connect", limited)
    store.engine.dispose()
    try:
        yield
    finally:
        event.remove(store.engine, "connect", limited)
        store.engine.dispose()


def state(store):
    inputs = store.inputs("mia")
    return inputs.readings.rows(), inputs.doses.rows(), len(store.imports()), store.findings("mia") is None


@pytest.mark.in_a_file
@pytest.mark.parametrize("pages_left", [0, 1, 5, 20])
def test_an_import_onto_a_full_disk_changes_nothing_and_lands_once_there_is_room(store, pages_left):
    store.take_in(batch(readings=readings([90, 80, 70])), NOW)
    before = state(store)
    big = batch("h2", readings=readings(range(60, 360), start=NIGHT + timedelta(hours=1), step=1), doses=dose())
    bigger = batch("h3", readings=readings([100] * 5000, start=NIGHT + timedelta(days=2), step=5))
    told = []
    with full_disk(store, pages_left):
        for log in (big, bigger):
            try:
                store.take_in(log, NOW)
            except CouldNotRun as trouble:
                told.append(trouble)
    assert {trouble.code for trouble in told} == {"disk_full"}
    assert "disk is full" in str(told[0])
    after = state(store)
    assert after == before or (len(told) == 1 and len(store.imports()) == 2)
    store.take_in(big, NOW)
    store.take_in(bigger, NOW)
    assert store.inputs("mia").readings.height == 5303


@pytest.mark.in_a_file
def test_findings_that_do_not_fit_onto_a_full_disk_leave_the_old_ones(store):
    store.save_findings("mia", Findings(NOW))
    rows = [("mia", NIGHT, NIGHT + timedelta(minutes=i), 70.0 + i * 0.37, 5.0, 90.0 - i * 0.1) for i in range(4000)]
    big = Findings(NOW + timedelta(days=1), paths=pl.DataFrame(rows, schema=PATHS.schema, orient="row"))
    with full_disk(store, 1), pytest.raises(CouldNotRun, match="disk is full"):
        store.save_findings("mia", big)
    assert store.findings("mia").as_of_utc == NOW
    assert store.save_findings("mia", big)


def test_two_imports_at_once_both_land_whole(home):
    with Store.open(home) as store:
        store.save_person(child())
    troubles = []

    def take_in(number):
        try:
            with Store.open(home) as mine:
                for part in range(10):
                    log = readings([80 + number] * 40, start=NIGHT + timedelta(hours=4 * part), step=5)
                    mine.take_in(batch(f"{number}-{part}", readings=log), NOW)
        except CouldNotRun as trouble:
            troubles.append(trouble)

    both = [threading.Thread(target=take_in, args=(number,)) for number in (1, 2)]
    for thread in both:
        thread.start()
    for thread in both:
        thread.join()
    assert troubles == []
    with Store.open(home) as store:
        assert store.inputs("mia").readings.height == 400
        assert len(store.imports()) == 20
        # Each of the ten stretches was told once by each: the second teller corrected the first, value by value.
        assert len(store.corrections("mia")) == 400


@pytest.mark.in_a_file
def test_a_database_somebody_else_writes_to_is_told_after_the_wait_and_nothing_changed(store, home, monkeypatch):
    monkeypatch.setattr(database, "WAIT_FOR_LOCK_SECONDS", 0.1)
    store.engine.dispose()
    other = sqlite3.connect(home / "gramrise.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(CouldNotRun, match="in use by another program"):
        store.take_in(batch(readings=readings([90])), NOW)
    assert store.inputs("mia").readings.height == 0  # readers do not wait
    other.execute("ROLLBACK")
    other.close()
    assert store.take_in(batch(readings=readings([90])), NOW).added == 1


def test_tables_of_the_first_step_are_brought_up_to_date_with_what_they_hold(home):
    import alembic.command
    from alembic.config import Config

    home.mkdir()
    engine = database.engine_for(f"sqlite:///{home / 'gramrise.db'}")
    config = Config()
    config.set_main_option("script_location", str(database.MIGRATIONS))
    with engine.connect() as connection, connection.begin():
        config.attributes["connection"] = connection
        alembic.command.upgrade(config, "0001")
        connection.exec_driver_sql(
            "INSERT INTO persons VALUES ('old', '2016-05-01', 'mg/dL', '', '', 'en', 'taught', 3, NULL)"
        )
        connection.exec_driver_sql("INSERT INTO person_facts VALUES ('old', 'zone', '2016-05-01', '\"Europe/Berlin\"')")
    engine.dispose()
    assert database.step_of_file(home / "gramrise.db") == "0001"
    with Store.open(home) as store:
        assert store.person("old").zone_now().key == "Europe/Berlin"
    assert database.step_of_file(home / "gramrise.db") == database.NEWEST_STEP
    assert database.step_of_file(home / "backups" / "before-step-after-0001.db") == "0001"


def test_a_run_and_each_persons_part_in_it_are_kept(store):
    run = store.runs.begin(NIGHTLY, NOW)
    assert store.runs.latest(NIGHTLY) is None
    store.runs.record(run, PersonRun("mia", NOW.date(), DONE, NOW))
    store.runs.finish(run, NOW)
    assert store.runs.latest(NIGHTLY).finished_at_utc == NOW
    assert store.runs.done_since(NIGHTLY, NOW.date()) == {("mia", NOW.date())}
    assert [part.person_id for part in store.runs.parts(run)] == ["mia"]
