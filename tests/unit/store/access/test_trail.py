"""The audit trail: what is done stands in it, nobody is named in it, and nobody takes anything out of it."""

import psycopg
import pytest
from sqlalchemy import exc, text
from support.store_logs import NOW, batch, child, readings

from gramrise.store import Actor, Store, restore_backup, write_backup
from gramrise.store.access.trail import CHANGED, SAW, TOOK_OUT

NURSE = Actor("device 3", "clinic")


def told(store, **more):
    return [(each.role, each.did, each.what) for each in store.trail.entries(**more)]


def test_what_is_changed_stands_in_the_trail_with_who_did_it(store):
    store.actor = Actor("device 1", "parent")
    store.take_in(batch(readings=readings(range(60, 70))), NOW)
    store.actor = NURSE
    store.trail.note(store.actor, SAW, "review", NOW, "mia")
    assert told(store) == [("clinic", SAW, "review"), ("parent", CHANGED, "import")]
    first = store.trail.entries()[0]
    assert (first.who, first.at_utc) == ("device 3", NOW)


def test_a_look_is_noted_where_several_people_share_the_database(store):
    store.actor = NURSE
    store.note_look("lows", NOW, "mia")
    assert told(store, person_id="mia") == ([("clinic", SAW, "lows")] if store.engine.dialect.name != "sqlite" else [])


def test_a_dry_run_and_a_refused_change_leave_no_line(store):
    store.take_in(batch(readings=readings(range(60, 70))), NOW, dry_run=True)
    assert told(store) == []


def test_a_person_stands_in_it_under_a_code_so_that_forgetting_leaves_no_name(store):
    store.trail.note(NURSE, SAW, "review", NOW, "mia")
    store.trail.note(NURSE, TOOK_OUT, "backup", NOW)
    [mine] = store.trail.entries("mia")
    assert mine.person == store.trail.code_of("mia")
    assert "mia" not in mine.person
    store.forget("mia")
    assert len(store.trail.entries()) == 2


@pytest.mark.parametrize("attack", ["UPDATE audit SET who = 'nobody'", "DELETE FROM audit"])
def test_nothing_in_it_is_changed_or_deleted(store, attack):
    store.trail.note(NURSE, SAW, "review", NOW, "mia")
    with pytest.raises(exc.DBAPIError) as refused, store.engine.begin() as connection:
        connection.execute(text(attack))
    assert "only added to" in str(refused.value)
    assert told(store) == [("clinic", SAW, "review")]


def test_the_applications_role_cannot_edit_it_once_the_administrator_has_set_it_apart(postgres_server, tmp_path):
    url = postgres_server.new_database()
    name = url.split("/")[3].partition("?")[0]
    for statement in (
        "DROP ROLE IF EXISTS clinic_app",
        "CREATE ROLE clinic_app LOGIN",
        "DROP ROLE IF EXISTS gramrise_audit",
    ):
        postgres_server.sql(statement)
    postgres_server.sql("GRANT CREATE ON SCHEMA public TO clinic_app", name)
    ours = postgres_server.url(name, "clinic_app")
    with Store.open(tmp_path, ours) as store:
        store.save_person(child())
        assert store.trail.can_be_edited()
        postgres_server.sql(store.trail.apart_sql(), name)
        assert not store.trail.can_be_edited()
        store.trail.note(NURSE, SAW, "review", NOW, "mia")
    attacks = (
        "UPDATE audit SET who = 'nobody'",
        "DELETE FROM audit",
        "TRUNCATE audit",
        "DROP TABLE audit",
        "ALTER TABLE audit DISABLE TRIGGER ALL",
        "DROP FUNCTION audit_stays() CASCADE",
        "SET ROLE gramrise_audit",
        "SET session_replication_role = replica",
        "ALTER TABLE audit OWNER TO clinic_app",
    )
    for attack in attacks:
        with (
            pytest.raises(psycopg.errors.InsufficientPrivilege),
            psycopg.connect(ours.replace("+psycopg", "")) as connection,
        ):
            connection.execute(attack)
    with Store.open(tmp_path, ours) as store:
        assert told(store) == [("clinic", SAW, "review")]
    postgres_server.drop(url)
    postgres_server.sql("DROP ROLE clinic_app; DROP ROLE gramrise_audit")


def test_a_restore_takes_nothing_out_of_the_trail(store, home, tmp_path):
    store.trail.note(NURSE, SAW, "before the backup", NOW, "mia")
    write_backup(home, tmp_path / "copy.db")
    store.trail.note(NURSE, SAW, "after it", NOW, "mia")
    store.close()
    restore_backup(home, tmp_path / "copy.db")
    with Store.open(home) as again:
        assert [what for _, _, what in told(again)] == ["after it", "before the backup"]
