"""The inbox: files rest first, land whole, and are moved only after the commit."""

import os
from contextlib import suppress
from datetime import timedelta

from support.nightly_home import START, doses_csv, drop, readings_csv, settled

from gramrise.nightly import health, inbox, run_night
from gramrise.nightly.inbox import taking

NOW = START + timedelta(days=1)


def names(folder):
    return sorted(file.name for file in folder.iterdir()) if folder.is_dir() else []


def test_a_file_is_taken_in_and_lies_in_done_afterwards(store, home):
    drop(home, "mia", "march.csv", readings_csv(START, 20))
    night = run_night(store, home, NOW)
    assert (night.files, night.rows, night.held) == (1, 240, [])
    assert names(home / "inbox" / "mia" / "done") == ["march.csv"]
    assert store.inputs("mia").readings.height == 240


def test_a_second_file_of_the_same_name_does_not_replace_the_first(store, home):
    for hours in (20, 22):
        drop(home, "mia", "march.csv", readings_csv(START, hours))
        run_night(store, home, NOW)
    assert names(home / "inbox" / "mia" / "done") == ["march-2.csv", "march.csv"]


def test_a_file_that_cannot_be_read_is_held_with_the_reason_beside_it_and_the_next_file_lands(store, home):
    drop(home, "mia", "a.csv", "what is this?\n")
    drop(home, "mia", "b.csv", readings_csv(START, 20))
    night = run_night(store, home, NOW)
    assert len(night.held) == 1
    assert "files taken in: 1, new rows: 240; files held, each with its reason beside it: 1." in night.sentence
    assert names(home / "inbox" / "mia" / "held") == ["a.csv", "a.csv.why.txt"]
    assert "put the file back" in (home / "inbox" / "mia" / "held" / "a.csv.why.txt").read_text()
    assert store.inputs("mia").readings.height == 240


def test_a_trace_by_another_clock_is_held_and_leaves_the_known_one_as_it_is(store, home):
    drop(home, "mia", "a.csv", readings_csv(START, 20))
    run_night(store, home, NOW)
    known = store.inputs("mia").readings
    drop(home, "mia", "b.csv", readings_csv(START, 20).replace("+00:00", "-01:00"))
    night = run_night(store, home, NOW)
    assert night.files_held == 1
    assert "clock" in (home / "inbox" / "mia" / "held" / "b.csv.why.txt").read_text()
    assert store.inputs("mia").readings.equals(known)


def test_a_folder_for_nobody_and_a_file_in_no_folder_are_named_and_read_for_nobody(store, home):
    drop(home, "MIA", "march.csv", readings_csv(START, 20))
    (home / "inbox" / "loose.csv").write_text(readings_csv(START, 20))
    night = run_night(store, home, NOW)
    assert "in the inbox for nobody: 2" in night.sentence
    assert "inbox/MIA: nobody here has the id 'MIA'; its one file is not read" in " ".join(night.held)
    assert "inbox/loose.csv: a file in no person's folder" in " ".join(night.held)
    told = {each.sentence for each in health.check_health(home, NOW).findings if each.code == "inbox_for_nobody"}
    assert told == set(night.held)
    assert store.inputs("mia").readings.is_empty()


def test_a_broken_row_is_named_and_the_good_rows_land(store, home):
    drop(home, "mia", "a.csv", readings_csv(START, 20) + "2026-03-02T08:00+00:00,many\n")
    night = run_night(store, home, NOW)
    assert store.inputs("mia").readings.height == 240
    assert any("a.csv row 242" in sentence for sentence in night.held)


def test_a_file_that_is_still_growing_rests_until_the_next_pass(store, home):
    settings = settled(home, "")
    growing = drop(home, "mia", "march.csv", readings_csv(START, 10))
    slow = settings.model_copy(update={"rest_seconds": 5.0})

    def copied_on(_seconds):
        growing.write_text(readings_csv(START, 20), encoding="utf-8")

    assert run_night(store, home, NOW, settings=slow, sleep=copied_on).files == 0
    assert run_night(store, home, NOW, settings=slow, sleep=lambda _s: None).files == 1
    assert store.inputs("mia").readings.height == 240


def test_a_copy_with_an_old_date_still_rests_as_its_entry_is_new(store, home):
    copied = drop(home, "mia", "march.csv", readings_csv(START, 10))
    os.utime(copied, (1_600_000_000, 1_600_000_000))
    waited = []
    inbox.lying_still(home, store.persons(), 5.0, waited.append)
    assert waited == [5.0]


def test_nothing_is_waited_for_when_the_inboxes_are_empty(store, home):
    waited = []
    assert inbox.lying_still(home, store.persons(), 5.0, waited.append) == {"mia": [], "tom": []}
    assert waited == []


def test_links_folders_and_hidden_files_are_left_alone(store, home, tmp_path):
    drop(home, "mia", ".march.csv.part", readings_csv(START, 10))
    (home / "inbox" / "mia" / "old").mkdir()
    elsewhere = tmp_path / "elsewhere.csv"
    elsewhere.write_text(readings_csv(START, 10))
    (home / "inbox" / "mia" / "link.csv").symlink_to(elsewhere)
    assert run_night(store, home, NOW).files == 0
    assert elsewhere.exists()


def test_a_file_whose_move_was_cut_off_after_the_commit_changes_nothing_the_next_time(store, home, monkeypatch):
    drop(home, "mia", "given.csv", doses_csv(START + timedelta(hours=2)))

    def cut_off(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patched, suppress(KeyboardInterrupt):
        patched.setattr(taking, "move", cut_off)
        run_night(store, home, NOW)
    assert store.inputs("mia").doses.height == 1
    night = run_night(store, home, NOW)
    assert (night.files, night.rows) == (1, 0)
    assert store.inputs("mia").doses.height == 1
    assert names(home / "inbox" / "mia" / "done") == ["given.csv"]


def test_what_was_held_by_a_wrong_clock_is_read_again_once_the_clock_is_set(store, home):
    behind = START - timedelta(days=400)
    drop(home, "mia", "march.csv", readings_csv(START, 20))
    run_night(store, home, behind)  # all its readings lie ahead of that clock
    assert names(home / "inbox" / "mia" / "held") == ["march.csv", "march.csv.why.txt"]
    night = run_night(store, home, NOW)
    assert "the clock was set since it was held, and it is read again" in " ".join(night.held)
    assert names(home / "inbox" / "mia" / "held") == []
    assert store.inputs("mia").readings.height == 240


def test_the_reason_of_a_held_file_goes_once_the_file_was_put_back(store, home):
    drop(home, "mia", "a.csv", "what is this?\n")
    run_night(store, home, NOW)
    held = home / "inbox" / "mia" / "held"
    (held / "a.csv").unlink()
    drop(home, "mia", "a.csv", readings_csv(START, 20))
    run_night(store, home, NOW)
    assert names(held) == []


def test_a_file_of_done_that_was_only_touched_or_copied_is_not_read_again(store, home):
    settings = settled(home, "")
    drop(home, "mia", "march.csv", readings_csv(START, 10))
    run_night(store, home, NOW, settings=settings)
    (change,) = store.last_changes("mia", 1)
    store.undo(change.change_id, NOW)
    lies = home / "inbox" / "mia" / "done" / "march.csv"
    for seconds in (1, 2):
        os.utime(lies, (seconds, seconds))
        night = run_night(store, home, NOW, settings=settings)
        assert (night.files, lies.exists(), store.inputs("mia").readings.height) == (0, True, 0)
    lies.write_text(readings_csv(START, 20), encoding="utf-8")
    assert run_night(store, home, NOW, settings=settings).files == 1
