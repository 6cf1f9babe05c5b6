"""Restore and forget beside a running service, and cut off: nothing in `done` is passed over, nothing stays behind."""

import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import date, timedelta

import pytest
from support.nightly_home import START, child, drop, readings_csv
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.domain.person import Dated
from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.nightly import back_into_inbox, forget, forget_person, restore_home, restore_told, run_night, take_in_file
from gramrise.nightly.health import check_health
from gramrise.nightly.lock import only_one
from gramrise.store import Letter, Store, restoring, write_backup

NOW = START + timedelta(days=1)


class Killed(BaseException):
    """The process ended here."""


def test_restore_names_what_done_holds_that_the_backup_lacks_and_takes_it_in_again(store, home, tmp_path):
    drop(home, "mia", "first.csv", readings_csv(START - timedelta(days=3), 20))
    run_night(store, home, START)
    write_backup(home, tmp_path / "copy.db")
    drop(home, "mia", "second.csv", readings_csv(START - timedelta(days=2), 30))
    drop(home, "tom", "third.csv", readings_csv(START - timedelta(days=2, minutes=2), 30))
    drop(home, "tom", "2026-03-01 night.txt", "02:10 3 pieces\n")
    run_night(store, home, NOW)
    before = store.inputs("mia").readings.rows(), store.inputs("tom").doses.rows()
    assert before[1]
    restored = restore_home(home, tmp_path / "copy.db", NOW)
    names = [file.name for file in restored.not_in_backup]
    assert names == ["second.csv", "2026-03-01 night.txt", "third.csv"]
    assert back_into_inbox(home, restored.not_in_backup) == 3
    run_night(store, home, NOW)
    assert (store.inputs("mia").readings.rows(), store.inputs("tom").doses.rows()) == before
    assert restore_home(home, home / restored.kept.name, NOW).not_in_backup == []


def let_in(store, number):
    store.devices.invite(["mia"], "parent", f"phone {number}", f"link {number}", NOW + timedelta(hours=1))
    assert store.devices.let_in(f"link {number}", f"session {number}", NOW)


def test_a_lost_phone_stays_shut_out_and_a_new_one_let_in_whatever_backup_is_restored(store, home, tmp_path):
    """A backup of before the loss let the lost phone in again, without a word."""
    let_in(store, 1)
    store.devices.invite(["mia"], "parent", "phone 2", "link 2", NOW + timedelta(hours=1))
    write_backup(home, tmp_path / "copy.db")
    for device in store.devices.listed():
        store.devices.shut_out(device.device_id, NOW)
    let_in(store, 3)
    restored = restore_home(home, tmp_path / "copy.db", NOW)
    with Store.open(home) as again:
        assert (again.devices.of_session("session 1"), len(again.devices.of_session("session 3"))) == ([], 1)
        assert not again.devices.is_open("link 2", NOW)
    assert restored.complete


def test_where_the_database_is_gone_phones_and_mails_of_the_backup_are_named(store, home, tmp_path):
    let_in(store, 1)
    message = b"Message-ID: <a@example.org>\r\n\r\n"
    store.outbox.put(
        [Letter("<a@example.org>", "mia", "weekly", date(2026, 3, 1), "m@example.org", "parent", message)], NOW
    )
    write_backup(home, tmp_path / "copy.db")
    store.close()
    for file in home.glob("gramrise.db*"):
        file.unlink()
    restored = restore_home(home, tmp_path / "copy.db", NOW)
    assert (restored.kept, restored.let_in, restored.waiting, restored.complete) == (None, 1, 1, False)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ("UPDATE alembic_version SET version_num = 'zzzz'", "a newer gramrise"),
        ("DROP TABLE outbox", "outbox is missing"),
    ],
)
def test_a_backup_that_this_gramrise_cannot_use_is_refused_before_anything_is_replaced(
    store, home, tmp_path, change, why
):
    """It was put in the place of a whole database first and refused then: no command ran any more."""
    write_backup(home, tmp_path / "copy.db")
    (tmp_path / "copy.db.sha256").unlink()
    with closing(sqlite3.connect(tmp_path / "copy.db")) as newer, newer:
        newer.execute(change)
    drop(home, "mia", "first.csv", readings_csv(START - timedelta(days=3), 20))
    run_night(store, home, START)
    had = store.inputs("mia").readings.height
    with pytest.raises(CouldNotRun, match=why) as refused:
        restore_home(home, tmp_path / "copy.db", NOW)
    assert "nothing was changed" in refused.value.what
    assert [file.name for file in home.glob("gramrise.db.*")] == []
    with Store.open(home) as again:
        assert again.inputs("mia").readings.height == had


def test_neither_restore_nor_forget_begins_while_a_pass_is_at_work(store, home, tmp_path):
    write_backup(home, tmp_path / "copy.db")
    before = (home / "gramrise.db").read_bytes()
    with only_one(home):
        with pytest.raises(CouldNotRun, match="another nightly pass or restore is at work"):
            restore_home(home, tmp_path / "copy.db", NOW)
        with pytest.raises(CouldNotRun, match="another nightly pass or restore is at work"):
            forget_person(store, home, "mia")
    assert (home / "gramrise.db").read_bytes() == before
    assert len(store.persons()) == 2


@pytest.mark.parametrize("step", ["_delete_files", "remove_unfinished_copies", "copies", "erase_from_copy"])
def test_forget_cut_off_anywhere_is_told_by_check_and_run_again_leaves_nothing(store, home, step, monkeypatch):
    drop(home, "mia", "march.csv", readings_csv(START - timedelta(days=2), 60))
    run_night(store, home, START)
    (home / "backups").mkdir()
    write_backup(home, home / "backups" / "before-step-after-0001.db")
    for name in ("reports/.mia-2026-03-01.pdf.growing", "outbox/.2026-03-01-mia-0123abcd.eml.growing"):
        (home / name).parent.mkdir(exist_ok=True)
        (home / name).write_bytes(b"half of mia")
    shutil.copy(home / "backups" / "before-step-after-0001.db", home / "backups" / "x.db.growing")
    shutil.copy(home / "backups" / "before-step-after-0001.db", home / "gramrise.db.restoring")

    def killed(*_):
        raise Killed

    with monkeypatch.context() as patched:
        patched.setattr(forget, step, killed)
        with pytest.raises(Killed):
            forget_person(store, home, "mia")
    assert "forgetting_cut_off" in [each.code for each in check_health(home, NOW).findings]
    gone = forget_person(store, home, "mia")
    assert gone.left == []
    assert not list(home.rglob("*mia*"))
    for file in home.rglob("*"):
        assert not file.is_file() or file.name == "gramrise.toml" or b"mia" not in file.read_bytes(), file
    assert [each.person_id for each in store.persons()] == ["tom"]
    assert "forgetting_cut_off" not in [each.code for each in check_health(home, NOW).findings]
    with pytest.raises(WrongUse, match="mia"):
        forget_person(store, home, "mia")


def test_a_damaged_copy_is_named_with_its_day_when_a_person_is_forgotten(store, home):
    (home / "gramrise.db.before-restore-1").write_bytes(b"not a database at all" * 500)
    gone = forget_person(store, home, "mia")
    assert gone.copies == []
    assert "gramrise.db.before-restore-1 of 20" in gone.left[0]
    assert store.persons() == [child("tom", "America/Chicago")]


def test_restore_names_what_was_brought_by_hand_since_the_backup(store, home, tmp_path):
    write_backup(home, tmp_path / "copy.db")
    file = tmp_path / "by hand.csv"
    file.write_text(readings_csv(START - timedelta(days=2), 30))
    take_in_file(store, home, store.person("mia"), file, NOW)
    restored = restore_home(home, tmp_path / "copy.db", NOW)
    assert restored.not_in_backup == []
    assert restored.lost == ["by hand.csv (mia): 360 rows"]
    assert restore_home(home, home / restored.kept.name, NOW).lost == []


def test_a_restore_killed_before_it_names_what_is_lost_is_told_by_check_and_the_next_one_names_it(
    store, home, tmp_path, monkeypatch
):
    write_backup(home, tmp_path / "copy.db")
    file = tmp_path / "by hand.csv"
    file.write_text(readings_csv(START - timedelta(days=2), 30))
    take_in_file(store, home, store.person("mia"), file, NOW)
    store.close()

    def killed(*_):
        raise Killed

    monkeypatch.setattr("gramrise.nightly.restore.done_but_unknown", killed)
    with pytest.raises(Killed):
        restore_home(home, tmp_path / "copy.db", NOW)
    monkeypatch.undo()
    told = {found.code: found.sentence for found in check_health(home, NOW).findings}
    assert "run `gramrise restore` again" in told["restore_untold"]
    assert restore_home(home, tmp_path / "copy.db", NOW).lost == ["by hand.csv (mia): 360 rows"]
    restore_told(home)
    assert "restore_untold" not in {found.code for found in check_health(home, NOW).findings}
    assert restore_home(home, tmp_path / "copy.db", NOW).lost == []


def test_a_restore_that_is_refused_leaves_nothing_to_tell(home, tmp_path):
    with pytest.raises(WrongUse):
        restore_home(home, tmp_path / "none.db", NOW)
    assert not list(home.glob("*.restore-to-tell"))


@pytest.mark.parametrize(("overwritten", "stands"), [(False, "the one from before"), (True, "the restored one")])
def test_check_says_which_database_stands_after_a_killed_restore(
    store, home, tmp_path, monkeypatch, overwritten, stands
):
    write_backup(home, tmp_path / "copy.db")
    store.close()
    left = []

    def killed(copied, standing, kept, real=restoring.overwrite):
        left.append(copied.read_bytes())
        if overwritten:
            real(copied, standing, kept)
        raise Killed

    monkeypatch.setattr(restoring, "overwrite", killed)
    with pytest.raises(Killed):
        restore_home(home, tmp_path / "copy.db", NOW)
    (home / restoring.COPIED).write_bytes(left[0])  # a kill leaves it there
    monkeypatch.undo()
    (told,) = [found.sentence for found in check_health(home, NOW).findings if found.code == "restore_left_over"]
    assert stands in told
    restore_home(home, tmp_path / "copy.db", NOW)
    assert [found.code for found in check_health(home, NOW).findings if found.code == "restore_left_over"] == []


def test_forget_on_a_full_disk_does_not_say_that_all_was_undone_when_the_rows_are_gone(store, home, monkeypatch):
    store.close()

    def full(*_):
        raise CouldNotRun("the disk is full: the step that did not fit was undone whole", "make room", "disk_full")

    monkeypatch.setattr(forget, "_delete_files", full)
    told = str(CliRunner().invoke(app, ["--home", str(home), "forget", "mia", "--yes"]).exception)
    assert "mia was being forgotten, and is not kept" in told
    assert "run it again: gramrise forget mia" in told


def test_a_letter_that_went_out_since_the_backup_is_not_sent_again_after_a_restore(store, home, tmp_path):
    letters = [
        Letter(f"<{name}@b>", "mia", "weekly", START.date(), f"{name}@example.org", "parent", b"x") for name in "ab"
    ]
    store.outbox.put(letters[:1], START)
    write_backup(home, tmp_path / "copy.db")
    store.outbox.put(letters[1:], START)
    for each in letters:
        store.outbox.sent(each.message_id, NOW)
    restore_home(home, tmp_path / "copy.db", NOW)
    store.outbox.put(letters, NOW)  # the week is written again
    assert store.outbox.due(NOW) == []
    assert {each.state for each in store.outbox.all()} == {"sent"}


SLIP = Source("tin", Form.TABLET, 1.0, stated_as=StatedAs.ANHYDROUS)


def test_restore_names_what_was_taken_back_changed_and_forgotten_since(store, home, tmp_path):
    file = tmp_path / "slip.csv"
    file.write_text(readings_csv(START - timedelta(days=2), 2))
    take_in_file(store, home, store.person("mia"), file, NOW)
    write_backup(home, tmp_path / "copy.db")
    (change,) = store.last_changes("mia", 1)
    store.undo(change.change_id, NOW)
    store.save_person(replace(store.person("mia"), sources=Dated(((date(2026, 1, 1), (SLIP,)),))), NOW)
    forget_person(store, home, "tom")
    restored = restore_home(home, tmp_path / "copy.db", NOW)
    assert [(number, told) for number, told in restored.again] == [(change.change_id, "mia: file slip.csv (24 rows)")]
    assert [told for told in restored.changed if told.startswith("mia: source tin 1.00 g")] == restored.changed
    assert restored.changed
    assert restored.persons == ["tom"]
    assert not restored.complete
    restore_told(home)
    assert restore_home(home, tmp_path / "copy.db", NOW).complete


def test_restore_in_the_place_of_a_damaged_database_says_that_nothing_of_it_can_be_named(store, home, tmp_path):
    write_backup(home, tmp_path / "copy.db")
    store.close()
    whole = (home / "gramrise.db").read_bytes()
    (home / "gramrise.db").write_bytes(whole[: len(whole) // 3])
    restored = restore_home(home, tmp_path / "copy.db", NOW)
    assert restored.unread == [restored.kept.name]
    assert not restored.complete


def test_a_file_that_was_taken_back_since_is_not_offered_to_be_taken_in_again(store, home, tmp_path):
    write_backup(home, tmp_path / "copy.db")
    drop(home, "mia", "wrong.csv", readings_csv(START - timedelta(days=3), 20))
    drop(home, "mia", "right.csv", readings_csv(START - timedelta(days=5), 20))
    run_night(store, home, START)
    wrong = next(each for each in store.last_changes("mia", 9) if each.about.get("file") == "wrong.csv")
    store.undo(wrong.change_id, NOW)
    restored = restore_home(home, tmp_path / "copy.db", NOW)
    assert [file.name for file in restored.not_in_backup] == ["right.csv"]


def test_what_was_brought_more_than_once_under_one_name_is_summed(store, home, tmp_path):
    write_backup(home, tmp_path / "copy.db")
    for days in (2, 4, 6):
        (tmp_path / "log.csv").write_text(readings_csv(START - timedelta(days=days), 2))
        take_in_file(store, home, store.person("mia"), tmp_path / "log.csv", NOW)
    assert restore_home(home, tmp_path / "copy.db", NOW).lost == ["log.csv (mia): 72 rows, brought 3 times"]


def test_a_file_brought_by_hand_is_named_though_another_of_its_name_lies_in_done(store, home, tmp_path):
    write_backup(home, tmp_path / "copy.db")
    drop(home, "mia", "log.csv", readings_csv(START - timedelta(days=3), 20))
    run_night(store, home, START)
    (tmp_path / "log.csv").write_text(readings_csv(START - timedelta(days=8), 3))
    take_in_file(store, home, store.person("mia"), tmp_path / "log.csv", NOW)
    restored = restore_home(home, tmp_path / "copy.db", NOW)
    assert [file.name for file in restored.not_in_backup] == ["log.csv"]
    assert restored.lost == ["log.csv (mia): 36 rows"]
