"""`check` where a server keeps the rows: what only a server can lack, and no file is looked for."""

import pytest
from support.nightly_home import child, settled

from gramrise.nightly.health import check_health
from gramrise.store import Store
from gramrise.store.instants import instant

NOW = instant(1_772_000_000_000_000)


@pytest.fixture
def home(tmp_path, postgres_url):
    home = tmp_path / "home"
    settled(home)
    text = (home / "gramrise.toml").read_text("utf-8")
    (home / "gramrise.toml").write_text(f'database = "{postgres_url}"\n{text}', "utf-8")
    (home / "gramrise.toml").chmod(0o600)
    with Store.open(home) as store:
        store.save_person(child())
        store.save_person(child("tom", "America/Chicago"))
    return home


def codes(home):
    return [finding.code for finding in check_health(home, NOW).findings]


def test_a_home_on_a_server_is_well_but_for_a_trail_that_its_user_could_edit(home):
    assert codes(home) == ["audit_editable"]


def test_an_address_that_others_can_read_is_told(home):
    (home / "gramrise.toml").chmod(0o644)
    assert "home_open" in codes(home)


def test_a_server_that_is_not_there_is_grave_and_said_by_name(home, tmp_path):
    text = (home / "gramrise.toml").read_text("utf-8").splitlines()
    (home / "gramrise.toml").write_text("\n".join([f'database = "postgresql://x@/x?host={tmp_path}"', *text[1:]]))
    found = check_health(home, NOW)
    assert [finding.code for finding in found.findings][-1] == "server_gone"
    assert found.exit_status == 3


def test_tables_that_are_not_ours_are_told_and_left(home):
    with Store.open(home) as store, store.writing() as connection:
        connection.exec_driver_sql("ALTER TABLE outbox RENAME TO elsewhere")
    try:
        assert codes(home)[-1] == "schema_damaged"
    finally:
        with Store.open(home) as store, store.writing() as connection:
            connection.exec_driver_sql("ALTER TABLE elsewhere RENAME TO outbox")
