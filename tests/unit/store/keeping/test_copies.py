"""Backups of either database: sealed or not, checked, and the rows of one person as a document."""

import hashlib
import json
import os

import pytest
from support.store_logs import NOW, batch, child, dose, readings

from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.store import Store, new_key, read_key, restore_backup, write_backup
from gramrise.store.keeping import person_rows
from gramrise.store.schema import METADATA, OF_A_PERSON


def filled(store):
    store.take_in(batch(readings=readings(range(60, 100)), doses=dose()), NOW)
    store.runs.begin("nightly", NOW)
    return rows_of(store)


def rows_of(store):
    """A hash over all rows of each table."""
    with store.reading() as connection:
        return {
            table.name: hashlib.sha256(
                repr(
                    [
                        tuple(row)
                        for row in connection.execute(table.select().order_by(*table.primary_key))
                        if row[0] != "restored_mark"  # by which a restore that was cut off is known
                    ]
                ).encode()
            ).hexdigest()
            for table in METADATA.sorted_tables
        }


@pytest.mark.parametrize("with_key", [False, True], ids=["plain", "sealed"])
def test_a_copy_gets_its_name_only_when_its_check_sum_stands(store, home, tmp_path, with_key, monkeypatch):
    filled(store)
    new_key(tmp_path / "key")
    to, renamed, seen = tmp_path / "b.bak", os.replace, []

    def watched(source, target):
        if target == to:
            seen.append((to.exists(), to.with_name("b.bak.sha256").read_text("ascii").split()))
        renamed(source, target)

    monkeypatch.setattr(os, "replace", watched)
    write_backup(home, to, read_key(tmp_path / "key") if with_key else None)
    assert seen == [(False, [hashlib.sha256(to.read_bytes()).hexdigest(), "b.bak"])]


@pytest.mark.parametrize("with_key", [False, True], ids=["plain", "sealed"])
def test_a_restore_equals_the_original_in_every_row(store, home, tmp_path, with_key):
    before, key = filled(store), None
    if with_key:
        new_key(tmp_path / "key")
        key = read_key(tmp_path / "key")
    write_backup(home, tmp_path / "copy", key)
    store.forget("mia")
    assert rows_of(store) != before
    store.close()
    restore_backup(home, tmp_path / "copy", key)
    with Store.open(home) as again:
        assert rows_of(again) == before
    assert not list(home.glob("*.collected*")) + list(home.glob("*.unsealed*"))


def test_a_sealed_backup_without_its_key_changes_nothing(store, home, tmp_path):
    before = filled(store)
    new_key(tmp_path / "key")
    write_backup(home, tmp_path / "copy", read_key(tmp_path / "key"))
    with pytest.raises(WrongUse, match="is sealed"):
        restore_backup(home, tmp_path / "copy")
    assert rows_of(store) == before


def test_a_backup_that_is_not_what_was_written_is_refused_by_its_check_sum(store, home, tmp_path):
    filled(store)
    write_backup(home, tmp_path / "copy.db")
    told = (tmp_path / "copy.db.sha256").read_text()
    assert told == f"{hashlib.sha256((tmp_path / 'copy.db').read_bytes()).hexdigest()}  copy.db\n"
    with (tmp_path / "copy.db").open("ab") as copy:
        copy.write(b"\0")
    with pytest.raises(CouldNotRun, match="check sum") as trouble:
        restore_backup(home, tmp_path / "copy.db")
    assert trouble.value.code == "backup_changed"


@pytest.mark.in_a_file
def test_rows_moved_to_a_server_and_back_are_the_same(store, home, tmp_path, postgres_url):
    before = filled(store)
    write_backup(home, tmp_path / "copy.db")
    server = tmp_path / "server"
    server.mkdir(mode=0o700)
    (server / "gramrise.toml").write_text(f'database = "{postgres_url}"\n')
    restore_backup(server, tmp_path / "copy.db")
    with Store.open(server) as there:
        assert rows_of(there) == before
        assert there.runs.begin("nightly", NOW) == 2  # the server goes on counting
    write_backup(server, tmp_path / "back.db")
    store.close()
    restore_backup(home, tmp_path / "back.db")
    with Store.open(home) as again:
        assert again.inputs("mia").readings.height == 40


def test_every_table_of_a_person_goes_along_or_is_left_by_name():
    of_a_person = {table.name for table in OF_A_PERSON} | {"persons"}
    assert set(person_rows.KEPT) | person_rows.LEFT == of_a_person
    assert set(person_rows.KEPT).isdisjoint(person_rows.LEFT)


def test_a_person_taken_out_and_brought_in_under_another_id_has_the_same_inputs(store, home):
    filled(store)
    document = json.loads(json.dumps(store.document_of("mia")))
    assert store.bring_in(document, NOW, "mia-2") == "mia-2"
    one, other = store.inputs("mia"), store.inputs("mia-2")
    for name in ("readings", "fingers", "doses", "events"):
        frame = getattr(one, name)
        assert getattr(other, name).drop("person_id").equals(frame.drop("person_id")), name
    assert one.readings.height == 40
    assert {entry["content_hash"] for entry in store.imports("mia-2")} == {
        entry["content_hash"] for entry in store.imports("mia")
    }
    # Of the file both know, nothing is new to either.
    again = store.take_in(batch(readings=readings(range(60, 100)), doses=dose()), NOW)
    assert again.known_file


def test_nobody_is_brought_in_over_somebody_and_nothing_of_an_unknown_document(store):
    filled(store)
    document = store.document_of("mia")
    before = rows_of(store)
    with pytest.raises(WrongUse, match="has the id 'mia'"):
        store.bring_in(document, NOW)
    with pytest.raises(WrongUse, match="no document of a person"):
        store.bring_in({"form": "something else"}, NOW, "tom")
    document["tables"]["readings"]["columns"][0] = "mood"
    with pytest.raises(WrongUse, match="mood"):
        store.bring_in(document, NOW, "tom")
    with pytest.raises(WrongUse, match="nobody here"):
        store.document_of("nobody")
    assert rows_of(store) == before
    assert [each.person_id for each in store.persons()] == [child().person_id]
