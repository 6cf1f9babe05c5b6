"""`check`: what would keep the service from running is found, explained, and told to monitoring without names."""

import json
import shutil
import sqlite3
from collections import namedtuple
from datetime import timedelta

import pytest
from support.nightly_home import START, drop, readings_csv, settled
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.domain.problems import CouldNotRun
from gramrise.nightly import health, run_night
from gramrise.nightly.clock import look_at_clock
from gramrise.nightly.inbox import looks
from gramrise.store import Store, database
from gramrise.store.outbox import Letter

NOW = START + timedelta(days=1)
DAY = timedelta(days=1)


def codes(home, now=NOW):
    return [finding.code for finding in health.check_health(home, now).findings]


@pytest.fixture
def well(store, home):
    """A home in good order: readings of today, last night done."""
    drop(home, "mia", "march.csv", readings_csv(START, 23))
    run_night(store, home, NOW)
    return home


def test_all_well_is_nothing_to_tell(well):
    found = health.check_health(well, NOW)
    assert (found.findings, found.exit_status) == ((), 0)


def test_recipients_of_a_mistyped_id_are_named(well):
    file = well / "gramrise.toml"
    text, head = file.read_text("utf-8"), "[nightly.recipients]\n"
    assert head in text
    file.write_text(
        text.replace(head, f'{head}mria = [{{ address = "papa@example.org", role = "parent" }}]\n'), "utf-8"
    )
    told = {each.code: each.sentence for each in health.check_health(well, NOW).findings}
    assert "names 'mria', whom nobody knows here" in told["recipients_of_nobody"]


def test_no_home_yet_is_told_and_none_is_made(tmp_path):
    found = health.check_health(tmp_path / "nowhere", NOW)
    assert ([each.code for each in found.findings], found.exit_status) == (["no_home"], 3)
    assert not (tmp_path / "nowhere").exists()


def test_a_home_that_cannot_be_read_is_told(well, monkeypatch):
    def denied(*_):
        raise PermissionError

    monkeypatch.setattr(health.os, "listdir", denied)
    found = health.check_health(well, NOW)
    assert ([each.code for each in found.findings], found.exit_status) == (["home_unreadable"], 3)


def test_a_home_others_can_read_is_told(well):
    well.chmod(0o755)
    (finding,) = health.check_health(well, NOW).findings
    assert finding.code == "home_open"
    assert "chmod go-rwx" in finding.sentence


def test_a_damaged_database_is_told_and_left_as_it_is(store, well):
    store.close()
    path = well / "gramrise.db"
    content = bytearray(path.read_bytes())
    content[4096 * 3 : 4096 * 8] = b"\x55" * 4096 * 5
    path.write_bytes(content)
    found = health.check_health(well, NOW)
    assert ([each.code for each in found.findings], found.exit_status) == (["database_damaged"], 3)
    assert path.read_bytes() == bytes(content)


@pytest.mark.parametrize(("step", "code"), [("0000", "schema_old"), ("9999", "schema_newer")])
def test_tables_of_another_gramrise_are_told(store, well, step, code):
    store.close()
    with sqlite3.connect(well / "gramrise.db") as raw:
        raw.execute("UPDATE alembic_version SET version_num = ?", (step,))
    raw.close()
    assert codes(well) == [code]


def test_a_service_that_stopped_days_ago_is_told(well):
    assert "inbox_not_reached" in codes(well, NOW + 3 * DAY)


def test_files_that_lie_in_an_inbox_nobody_ever_looked_into_are_told(store, home, monkeypatch):
    drop(home, "mia", "march.csv", readings_csv(START, 23))
    assert "inbox_not_reached" not in codes(home)
    monkeypatch.setattr(looks, "_age_seconds", lambda _look: 3 * 86400.0)
    assert "inbox_not_reached" in codes(home)


def test_readings_that_stopped_three_days_ago_are_told(well):
    assert "no_readings" not in codes(well, NOW + 2 * DAY)
    assert "no_readings" in codes(well, NOW + 4 * DAY)


def test_mail_that_nobody_takes_is_told_with_what_the_server_said(store, well):
    letter = Letter("<a@b>", "mia", "weekly", NOW.date(), "mia@example.org", "parent", b"x")
    store.outbox.put([letter], NOW)
    store.outbox.later("<a@b>", NOW, "the server broke off")
    (early,) = health.check_health(well, NOW).findings
    assert (early.code, "the server broke off" in early.sentence) == ("mail_waiting", True)
    (finding,) = [each for each in health.check_health(well, NOW + 0.6 * DAY).findings if each.code == "mail_failing"]
    assert "the server broke off" in finding.sentence


def test_a_clock_that_jumped_is_told_for_a_week(store, well):
    settings = settled(well)
    look_at_clock(store, NOW, settings, ("start-1", 1000.0))
    assert look_at_clock(store, NOW + timedelta(minutes=10), settings, ("start-1", 1600.0)) == timedelta()
    assert look_at_clock(store, NOW - DAY, settings, ("start-1", 2200.0)) < -DAY
    (finding,) = [each for each in health.check_health(well, NOW - DAY).findings if each.code == "clock_jumped"]
    assert "back" in finding.sentence
    assert "clock_jumped" not in codes(well, NOW + 7 * DAY)


def test_a_machine_that_was_off_or_asleep_did_not_jump(store, home):
    settings = settled(home)
    look_at_clock(store, NOW, settings, ("start-1", 1000.0))
    assert look_at_clock(store, NOW + DAY, settings, ("start-2", 10.0)) == timedelta()
    assert look_at_clock(store, NOW + 2 * DAY, settings, ("start-2", 86410.0)) == timedelta()


def test_a_disk_nearly_full_is_told(well, monkeypatch):
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda _home: usage(10**12, 10**12, 50_000_000))
    (finding,) = health.check_health(well, NOW).findings
    assert finding.code == "disk_nearly_full"
    assert "50 MB" in finding.sentence


def test_a_disk_without_room_for_one_entry_lets_nothing_run(well, monkeypatch):
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda _home: usage(10**12, 10**12, 200_000))
    found = health.check_health(well, NOW)
    assert ([each.code for each in found.findings], found.exit_status) == (["disk_full"], 3)


def test_files_held_back_and_failed_nights_are_told(store, well, monkeypatch):
    drop(well, "mia", "odd.csv", "what is this?\n")
    run_night(store, well, NOW)
    assert codes(well) == ["inbox_held"]
    monkeypatch.setattr("gramrise.nightly.workers.persons.bring_up_to_date", lambda *_, **__: 1 / 0)
    run_night(store, well, NOW)
    assert codes(well) == ["person_failed", "person_failed", "inbox_held"]


NO_HEADER = "2026-03-01 01:00,7\n"


def test_a_held_file_that_was_mended_and_taken_in_by_hand_waits_no_longer(store, well):
    """Its advice was followed, and report and check went on saying that nothing of it is in the numbers."""
    drop(well, "mia", "odd.csv", NO_HEADER)
    run_night(store, well, NOW)
    held = well / "inbox" / "mia" / "held" / "odd.csv"
    assert codes(well) == ["inbox_held"]
    held.write_text("time,grams\n" + NO_HEADER)
    done = CliRunner().invoke(app, ["--home", str(well), "import", str(held), "--person", "mia"])
    assert "odd.csv: it waits no longer, and lies in done/ now." in " ".join(done.stdout.split())
    assert store.inputs("mia").doses["grams"].to_list() == [7.0]
    assert codes(well) == []
    assert [file.name for file in held.parent.iterdir()] == []
    assert "odd.csv" in {file.name for file in (well / "inbox" / "mia" / "done").iterdir()}


def test_a_held_file_whose_very_content_came_another_way_waits_no_longer_after_the_next_night(store, well):
    held = drop(well, "mia", "odd.csv", NO_HEADER).parent / "held" / "odd.csv"
    run_night(store, well, NOW)
    copy = well / "copy.csv"
    copy.write_text("time,grams\n" + NO_HEADER)
    held.write_bytes(copy.read_bytes())
    CliRunner().invoke(app, ["--home", str(well), "import", str(copy), "--person", "mia"])
    assert codes(well) == ["inbox_held"]
    run_night(store, well, NOW)
    assert codes(well) == []
    assert not held.exists()


def test_a_held_file_of_which_still_nothing_could_be_read_goes_on_waiting(store, well):
    held = drop(well, "mia", "night.txt", "2026-03-01\n02:10 noch drin\n").parent / "held" / "night.txt"
    run_night(store, well, NOW)
    CliRunner().invoke(app, ["--home", str(well), "import", str(held), "--person", "mia"])
    run_night(store, well, NOW)
    assert held.exists()
    assert "inbox_held" in codes(well)


def test_a_settings_file_that_is_wrong_is_told(well):
    (well / "gramrise.toml").write_text("[nightly]\nnight_at = 'half past five'\n")
    found = health.check_health(well, NOW)
    assert ([each.code for each in found.findings], found.exit_status) == (["settings_wrong"], 3)


def test_the_health_file_carries_codes_and_counts_and_no_names(store, well):
    drop(well, "mia", "odd.csv", "what is this?\n")
    run_night(store, well, NOW + 4 * DAY)
    text = (well / "health.json").read_text()
    document = json.loads(text)
    assert document["status"] == "attention"
    assert document["exit_status"] == 1
    assert {"no_readings", "inbox_held"} <= set(document["findings"])
    assert "mia" not in text
    assert (well / "health.json").stat().st_mode & 0o777 == 0o600


def test_a_database_another_program_holds_is_told_and_nothing_changes(store, home, monkeypatch):
    monkeypatch.setattr(database, "WAIT_FOR_LOCK_SECONDS", 0.2)
    store.engine.dispose()  # connections made from now on wait no longer than that
    other = sqlite3.connect(home / "gramrise.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with Store.open(home) as waiting, pytest.raises(CouldNotRun, match="in use by another program") as told:
        run_night(waiting, home, NOW)
    assert told.value.code == "database_locked"
    other.execute("ROLLBACK")
    other.close()
    run_night(store, home, NOW)


def test_all_is_not_well_while_files_wait_in_the_inbox(well):
    drop(well, "mia", "april.csv", readings_csv(START + DAY, 1))
    (finding,) = health.check_health(well, NOW).findings
    assert finding.code == "inbox_waiting"
    assert "gramrise nightly" in finding.sentence


def test_all_is_not_well_where_mails_are_promised_and_nobody_gets_them(well):
    settings = health.nightly_settings(well)
    finding = health.check_health(well, NOW, settings.model_copy(update={"recipients": {}})).findings[0]
    assert finding.code == "nobody_gets_mail"
    assert "[nightly.recipients]" in finding.sentence
    none_wanted = settings.model_copy(update={"recipients": {}, "weekly_for_roles": ()})
    assert health.check_health(well, NOW, none_wanted).findings == ()


@pytest.mark.parametrize(("read_only", "code"), [(True, "disk_read_only"), (False, "home_unreadable")])
def test_a_disk_that_may_only_be_read_is_not_called_a_question_of_rights(well, monkeypatch, read_only, code):
    monkeypatch.setattr(health.os, "access", lambda _path, _mode: False)
    monkeypatch.setattr(health, "may_only_be_read", lambda _folder: read_only)
    found = health.check_health(well, NOW)
    assert ([each.code for each in found.findings], found.exit_status) == ([code], 3)
