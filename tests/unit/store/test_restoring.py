"""A restore is one step: cut off anywhere it leaves the old database or the new one, and what others write is kept."""

import os
import sqlite3
import threading
from contextlib import closing

import pytest
from support.store_logs import NOW, batch, child, readings

from gramrise.domain.problems import CouldNotRun
from gramrise.store import Store, backup, database, restoring


class Killed(BaseException):
    """The process ended here."""


pytestmark = pytest.mark.in_a_file


@pytest.fixture
def saved(store, home, tmp_path):
    """A backup with two readings beside a database that has since got a third, still in its write-ahead log."""
    store.take_in(batch(readings=readings([90, 80])), NOW)
    backup.write_backup(home, tmp_path / "copy.db")
    store.take_in(batch("h2", readings=readings([90, 80, 70])), NOW)
    return tmp_path / "copy.db"


def values(home):
    with Store.open(home) as opened:
        return opened.inputs("mia").readings["glucose_mg_dl"].to_list()


def kill_at(monkeypatch, number):
    """Ends the process at the n-th rename, link or start of a copy into another database."""
    left = [number]

    def counted(done):
        def called(*given, **named):
            left[0] -= 1
            if left[0] == 0:
                raise Killed
            return done(*given, **named)

        return called

    for name in ("replace", "link"):
        monkeypatch.setattr(os, name, counted(getattr(os, name)))
    monkeypatch.setattr(restoring, "overwrite", counted(restoring.overwrite))


@pytest.mark.parametrize("moment", range(1, 5))
def test_a_restore_killed_at_any_step_leaves_the_old_or_the_new_readings(saved, home, moment, monkeypatch):
    with monkeypatch.context() as patched:
        kill_at(patched, moment)
        try:
            restoring.restore_backup(home, saved)
        except Killed:
            assert values(home) == [90, 80, 70]
        else:
            assert moment > 3
    restoring.restore_backup(home, saved)
    assert values(home) == [90, 80]


@pytest.mark.parametrize("moment", range(1, 8))
def test_a_restore_over_a_damaged_database_killed_at_any_step_is_told_and_run_again(
    saved, store, home, moment, monkeypatch
):
    store.close()
    path = home / "gramrise.db"
    path.write_bytes(b"not a database at all" * 500)
    with monkeypatch.context() as patched:
        kill_at(patched, moment)
        try:
            restoring.restore_backup(home, saved)
            done = True
        except Killed:
            done = False
    if not done:
        with pytest.raises(CouldNotRun) as refusal:
            Store.open(home)
        assert refusal.value.code in {"restore_cut_off", "database_damaged"}
        restoring.restore_backup(home, saved)
    assert values(home) == [90, 80]
    assert not (home / restoring.COMING).exists()
    kept = [file for file in home.glob("gramrise.db.before-restore-?") if file.read_bytes().startswith(b"not a")]
    assert kept


def test_without_a_database_a_killed_restore_makes_no_empty_one(saved, tmp_path, monkeypatch):
    new = tmp_path / "new-home"
    with monkeypatch.context() as patched:
        kill_at(patched, 3)
        with pytest.raises(Killed):
            restoring.restore_backup(new, saved)
    with pytest.raises(CouldNotRun, match="restore was cut off"):
        Store.open(new)
    restoring.restore_backup(new, saved)
    assert values(new) == [90, 80]


def test_what_another_program_writes_while_a_restore_begins_is_kept_on_one_side_or_the_other(saved, store, home):
    begun, go_on = threading.Event(), threading.Event()

    def slow_give():
        with Store.open(home) as mine, mine.writing() as connection:
            connection.exec_driver_sql("UPDATE persons SET name = 'written meanwhile'")
            begun.set()
            go_on.wait(20)

    giving = threading.Thread(target=slow_give)
    giving.start()
    begun.wait(20)
    threading.Timer(0.3, go_on.set).start()
    kept = restoring.restore_backup(home, saved)
    giving.join()
    with closing(sqlite3.connect(kept)) as old:
        assert old.execute("SELECT name FROM persons").fetchall() == [("written meanwhile",)]
    # A store that was open all the while writes into the database that now stands.
    store.take_in(batch("h3", readings=readings([90, 80, 70, 60])), NOW)
    assert values(home) == [90, 80, 70, 60]


def test_a_database_that_is_never_let_go_is_told_and_nothing_is_restored(saved, home, monkeypatch):
    monkeypatch.setattr(database, "WAIT_FOR_LOCK_SECONDS", 0.2)
    with closing(sqlite3.connect(home / "gramrise.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(CouldNotRun, match="in use by another program"):
            restoring.restore_backup(home, saved)
        other.execute("ROLLBACK")
    assert values(home) == [90, 80, 70]
    assert not list(home.glob("*.before-restore-*"))
    assert not list(home.glob("*.restoring*"))


def test_a_home_is_marked_when_it_is_made_so_that_an_early_backup_keeps_the_ids_of_letters(home, tmp_path):
    with Store.open(home) as store:
        store.save_person(child())
        backup.write_backup(home, tmp_path / "early.db")
        mark = store.runs.home_mark()
    restoring.restore_backup(home, tmp_path / "early.db")
    with Store.open(home) as store:
        assert store.runs.home_mark() == mark


def test_a_backup_from_before_homes_were_marked_gets_the_mark_of_the_home_it_comes_to(saved, home):
    with Store.open(home) as store:
        mark = store.runs.home_mark()
    with closing(sqlite3.connect(saved)) as old, old:
        old.execute("DELETE FROM service WHERE key = 'home_mark'")
    saved.with_name(f"{saved.name}.sha256").unlink()  # the one beside it is of the backup as it was
    restoring.restore_backup(home, saved)
    with Store.open(home) as store:
        assert store.runs.home_mark() == mark


def test_a_restore_that_finds_no_room_leaves_no_copy_of_what_it_did_not_replace(saved, home, monkeypatch):
    """The disk was full, and a full copy of the database stayed on it, unnamed."""
    real = sqlite3.connect

    class NoRoom(sqlite3.Connection):
        def backup(self, target, *, pages=-1, progress=None, **told):
            if progress is None:
                return super().backup(target, pages=pages, **told)
            progress(sqlite3.SQLITE_OK, 1, 2)
            raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(restoring.sqlite3, "connect", lambda *given, **told: real(*given, **told, factory=NoRoom))
    with pytest.raises(CouldNotRun, match="full"):
        restoring.restore_backup(home, saved)
    monkeypatch.undo()
    assert [file.name for file in home.glob("gramrise.db.before-restore-*")] == []
    assert values(home) == [90, 80, 70]
