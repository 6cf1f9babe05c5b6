"""A copy that did not fit leaves nothing behind: neither itself nor what the database lays beside it."""

import sqlite3

import pytest

from gramrise.domain.problems import CouldNotRun
from gramrise.store import backup
from gramrise.store.backup import copied_whole


def test_a_copy_cut_off_leaves_nothing_beside_it(tmp_path, monkeypatch):
    source = tmp_path / "gramrise.db"
    with sqlite3.connect(source) as made:
        made.execute("CREATE TABLE t (a)")
    to = tmp_path / "copies" / "b.bak"
    to.parent.mkdir()

    def full(*_args, **_told):
        for beside in ("-journal", "-wal", "-shm"):
            (to.parent / f"b.bak.growing{beside}").write_text("half")
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(backup.os, "replace", full)
    with pytest.raises(CouldNotRun, match="full"):
        copied_whole(source, to)
    assert list(to.parent.iterdir()) == []
