"""What the settings let go goes after its days, and nothing else does."""

import os
from datetime import UTC, date, datetime, timedelta

from support.nightly_home import child, settled

from gramrise.nightly.retention import let_go
from gramrise.store import DONE, NIGHTLY, Letter, PersonRun, Store

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)


def letter(number, message=b"Dear parent"):
    return Letter(f"<{number}@x>", "mia", "weekly", date(2026, 1, number), "mia@example.org", "parent", message)


def test_old_files_letters_and_runs_go_and_what_is_new_or_on_its_way_stays(tmp_path):
    settings = settled(tmp_path, more="keep_files_days = 30\nkeep_mail_days = 30\nkeep_runs_days = 30")
    long_ago, lately = NOW - timedelta(days=40), NOW - timedelta(days=2)
    done = tmp_path / "inbox" / "mia" / "done"
    done.mkdir(parents=True)
    for name, at in (("old.csv", long_ago), ("new.csv", lately)):
        (done / name).write_text("time,glucose\n")
        os.utime(done / name, (at.timestamp(), at.timestamp()))
    with Store.open(tmp_path) as store:
        store.save_person(child())
        store.outbox.put([letter(1), letter(2)], long_ago)
        store.outbox.put([letter(3)], lately)
        store.outbox.sent("<1@x>", long_ago)
        store.outbox.sent("<3@x>", lately)
        for at in (long_ago, long_ago + timedelta(days=1), lately):
            run = store.runs.begin(NIGHTLY, at)
            store.runs.record(run, PersonRun("mia", at.date(), DONE, at))
            store.runs.finish(run, at)
        assert let_go(store, tmp_path, NOW, settings) == 1 + 1 + 2
        assert let_go(store, tmp_path, NOW, settings) == 0
        assert [file.name for file in done.iterdir()] == ["new.csv"]
        texts = {each.message_id: each.message for each in store.outbox.all()}
        assert texts == {"<1@x>": b"", "<2@x>": b"Dear parent", "<3@x>": b"Dear parent"}
        assert store.runs.latest(NIGHTLY).started_at_utc == lately
        assert store.outbox.written("mia", "weekly", date(2026, 1, 1)) == 1  # that it was sent stays noted


def test_the_only_night_of_a_person_stays_however_old(tmp_path):
    settings = settled(tmp_path, more="keep_runs_days = 30")
    with Store.open(tmp_path) as store:
        store.save_person(child())
        run = store.runs.begin(NIGHTLY, NOW - timedelta(days=400))
        store.runs.record(run, PersonRun("mia", date(2025, 1, 1), "failed", NOW, "fault"))
        assert let_go(store, tmp_path, NOW, settings) == 0
        assert [part.person_id for part in store.runs.failing(NIGHTLY)] == ["mia"]


def test_unless_a_home_says_so_its_files_stay_for_ever(tmp_path):
    assert settled(tmp_path).keep_files_days == 0
