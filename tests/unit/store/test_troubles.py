"""What the disk refuses is called by its name; only a damaged database is told to be restored."""

import errno
import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import timedelta

import polars as pl
import pytest
from sqlalchemy import text
from support.store_logs import NIGHT, NOW, batch, dose, readings

from gramrise.domain.findings import Findings
from gramrise.domain.frames import LOWS
from gramrise.domain.problems import CouldNotRun, refused_by_disk
from gramrise.nightly import check_health
from gramrise.store import Store, database, troubles


def driver_error(name, said):
    problem = sqlite3.OperationalError(said)
    problem.sqlite_errorname = name
    return problem


@pytest.mark.parametrize(
    ("name", "said", "free_bytes", "code"),
    [
        ("SQLITE_FULL", "database or disk is full", 10**9, "disk_full"),
        ("SQLITE_IOERR_SHMSIZE", "disk I/O error", 0, "disk_full"),
        ("SQLITE_IOERR_SHMSIZE", "disk I/O error", 10**9, "disk_trouble"),
        ("SQLITE_IOERR_WRITE", "disk I/O error", 0, "disk_full"),
        ("SQLITE_CANTOPEN", "unable to open database file", 0, "disk_full"),
        ("SQLITE_IOERR_WRITE", "disk I/O error", 10**9, "disk_trouble"),
        ("SQLITE_CANTOPEN", "unable to open database file", 10**9, "home_unreadable"),
        ("SQLITE_READONLY", "attempt to write a readonly database", 10**9, "home_unreadable"),
        ("SQLITE_CORRUPT", "database disk image is malformed", 0, "database_damaged"),
        ("SQLITE_NOTADB", "file is not a database", 0, "database_damaged"),
        ("SQLITE_BUSY_SNAPSHOT", "database is locked", 0, "database_locked"),
        ("SQLITE_ERROR", "no such column: blocks.hash", 10**9, "schema_damaged"),
    ],
)
def test_each_refusal_of_the_driver_has_its_own_name(tmp_path, monkeypatch, name, said, free_bytes, code):
    room = os.statvfs_result((4096, 4096, 10**9, 0, free_bytes // 4096, 10**6, 10**6, 10**6, 0, 255))
    monkeypatch.setattr(os, "statvfs", lambda _folder: room)
    trouble = troubles.trouble_of(driver_error(name, said), tmp_path / "gramrise.db")
    assert trouble.code == code
    assert ("restore the latest backup" in str(trouble)) == (code in {"database_damaged", "schema_damaged"})
    assert "nothing was changed" not in str(trouble)


def test_a_whole_database_is_never_called_damaged(tmp_path):
    """A disk that does not read for a moment makes the driver say 'malformed': a restore would lose what is whole."""
    file = tmp_path / "gramrise.db"
    with closing(sqlite3.connect(file)) as made, made:
        made.execute("CREATE TABLE t (a)")
        made.executemany("INSERT INTO t VALUES (?)", [(bytes(3000),)] * 20)
    malformed = driver_error("SQLITE_CORRUPT", "database disk image is malformed")
    whole = troubles.trouble_of(malformed, file)
    assert whole.code == "disk_trouble"
    assert "restore" not in str(whole)
    content = bytearray(file.read_bytes())
    content[4096:8192] = bytes(4096)
    file.write_bytes(content)
    assert troubles.trouble_of(malformed, file).code == "database_damaged"


def test_a_quota_and_a_limit_of_file_sizes_are_full_disks(tmp_path, monkeypatch):
    """What `df` does not show: a user who may write no more, a file that may not grow."""
    refused, file = driver_error("SQLITE_IOERR_WRITE", "disk I/O error"), tmp_path / "gramrise.db"
    file.write_bytes(bytes(50_000))
    assert troubles.trouble_of(refused, file).code == "disk_trouble"
    with monkeypatch.context() as limited:
        limited.setattr(troubles.resource, "getrlimit", lambda _which: (60_000, 60_000))
        assert troubles.trouble_of(refused, file).code == "disk_full"

    def over_quota(**_where):
        raise OSError(errno.EDQUOT, "Disk quota exceeded")

    monkeypatch.setattr(troubles.tempfile, "TemporaryFile", over_quota)
    assert troubles.trouble_of(refused, file).code == "disk_full"


def test_a_disk_that_may_only_be_read_is_called_so():
    refused = refused_by_disk(OSError(errno.EROFS, "Read-only file system"))
    assert refused.code == "disk_read_only"
    assert refused_by_disk(OSError(errno.ENOSPC, "No space")).code == "disk_full"
    assert refused_by_disk(OSError(errno.EACCES, "Permission denied")) is None


@pytest.mark.in_a_file
@pytest.mark.parametrize(
    "damage",
    [
        "DROP TABLE outbox",
        "DROP TABLE alembic_version",
        "ALTER TABLE persons DROP COLUMN sex",
        "UPDATE alembic_version SET version_num = '0004'",
        "UPDATE alembic_version SET version_num = '0001'",
        "INSERT INTO alembic_version VALUES ('0001')",
        "DROP INDEX ix_readings_at_utc_glucose_mg_dl",
    ],
)
def test_tables_that_are_not_those_of_their_step_are_told_and_left_as_they_are(store, home, damage):
    store.close()
    with closing(sqlite3.connect(home / "gramrise.db")) as other, other:
        other.execute(damage)
        before = other.execute("SELECT name, sql FROM sqlite_master ORDER BY name").fetchall()
    codes = {finding.code for finding in check_health(home, NOW).findings}
    try:
        with Store.open(home) as opened:
            opened.persons()
            opened.outbox.all()
    except CouldNotRun as trouble:
        codes.add(trouble.code)
    assert "schema_damaged" in codes
    with closing(sqlite3.connect(home / "gramrise.db")) as other:
        assert other.execute("SELECT name, sql FROM sqlite_master ORDER BY name").fetchall() == before


@pytest.mark.in_a_file
def test_check_reads_indexes_against_their_tables_as_backup_does(store, home):
    store.take_in(batch(readings=readings(range(60, 160))), NOW)
    database.empty_log(store.engine)
    store.close()
    with closing(sqlite3.connect(home / "gramrise.db")) as other, other:
        other.execute("PRAGMA writable_schema=ON")
        page = other.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = 'ix_readings_at_utc_glucose_mg_dl'"
        ).fetchone()[0]
        size = other.execute("PRAGMA page_size").fetchone()[0]
    content = bytearray((home / "gramrise.db").read_bytes())
    at = content.rindex(b"mia", (page - 1) * size, page * size)
    content[at : at + 3] = b"moa"
    (home / "gramrise.db").write_bytes(content)
    database.refuse_damaged(home / "gramrise.db")  # the quick check does not see it
    assert [finding.code for finding in check_health(home, NOW).findings][:1] == ["database_damaged"]


@pytest.mark.in_a_file
def test_a_flipped_bit_in_what_was_found_is_told_by_check_and_never_read_as_another_finding(store, home):
    low = {
        "person_id": "mia",
        "start_utc": NIGHT,
        "end_utc": NIGHT + timedelta(minutes=30),
        "nadir_mg_dl": 58.0,
        "outcome": "treated",
    }
    lows = pl.DataFrame([{**dict.fromkeys(LOWS.schema), **low}], schema=LOWS.schema)
    store.take_in(batch(readings=readings([90, 80]), doses=dose()), NOW)
    found = Findings(NOW, lows=lows)
    assert store.save_findings("mia", found)
    whole = store.findings("mia")
    assert store.verify_blocks() == []
    with store.reading() as connection:
        kept = connection.exec_driver_sql("SELECT kind, slot, content FROM blocks").all()
    assert len(kept) >= 4
    tried = 0
    for kind, slot, content in kept:
        for bit in range(0, 8 * len(content), max(1, 8 * len(content) // 12)):
            flipped = bytearray(content)
            flipped[bit // 8] ^= 1 << bit % 8
            put(store, kind, slot, bytes(flipped))
            assert store.findings("mia") is None
            assert {each.kind for each in store.verify_blocks()} == {kind, "findings"}
            tried += 1
        put(store, kind, slot, content)
    assert tried >= 48
    put(store, *kept[0][:2], kept[0][2] + b"x")
    assert "findings_damaged" in [finding.code for finding in check_health(home, NOW).findings]
    put(store, *kept[0])
    assert store.findings("mia").lows.equals(whole.lows)


def put(store, kind, slot, content):
    with store.writing() as connection:
        connection.exec_driver_sql("UPDATE blocks SET content = ? WHERE kind = ? AND slot = ?", (content, kind, slot))


CLOSE_IT = (
    "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]); c.execute('SELECT * FROM persons').fetchall(); c.close()"
)


def test_opening_the_store_again_leaves_the_locks_of_connections_that_are_open(tmp_path):
    """A server whose locks fell lost its log to the next command, and phones wrote into a file that was gone."""
    with Store.open(tmp_path) as serving, serving.reading() as connection:
        connection.execute(text("SELECT count(*) FROM persons")).scalar_one()
        Store.open(tmp_path)
        log = (tmp_path / "gramrise.db-wal").stat().st_ino
        subprocess.run([sys.executable, "-c", CLOSE_IT, str(tmp_path / "gramrise.db")], check=True)
        assert (tmp_path / "gramrise.db-wal").stat().st_ino == log


@pytest.mark.parametrize("empty", [True, False])
@pytest.mark.parametrize("beside", ["health.json", "inbox/mia/.done.json"])
def test_a_database_that_is_gone_or_empty_is_told_and_none_is_made_in_its_place(tmp_path, beside, empty):
    with Store.open(tmp_path):
        pass
    (tmp_path / beside).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / beside).write_text("{}")
    for file in tmp_path.glob("gramrise.db*"):
        file.unlink()
    if empty:
        (tmp_path / "gramrise.db").touch()
    with pytest.raises(CouldNotRun, match="restore") as gone:
        Store.open(tmp_path)
    assert gone.value.code == "database_gone"
    assert [each.code for each in check_health(tmp_path, NOW).findings] == ["database_gone"]
    assert not (tmp_path / "gramrise.db").exists() or (tmp_path / "gramrise.db").stat().st_size == 0
    (tmp_path / beside).unlink()
    (tmp_path / "health.json").unlink(missing_ok=True)
    with Store.open(tmp_path) as store:
        assert store.persons() == []


@pytest.mark.parametrize("end", ["-journal", "-wal", "-shm"])
def test_a_folder_named_as_a_file_beside_the_database_is_told_as_what_it_is(end, tmp_path):
    (tmp_path / f"gramrise.db{end}").mkdir()
    told = troubles.trouble_of(sqlite3.OperationalError("disk I/O error"), tmp_path / "gramrise.db")
    assert told is not None
    assert (told.code, f"gramrise.db{end}" in str(told)) == ("home_unreadable", True)
