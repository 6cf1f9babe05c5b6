"""Whatever lies in an inbox costs itself only: hostile files, names, links, pipes, a pause in writing."""

import errno
import os
import shutil
import socket
import stat
from datetime import timedelta

import pytest
from support.hostile_workbooks import far_corners
from support.nightly_home import START, drop, readings_csv

from gramrise.domain.problems import CouldNotRun
from gramrise.nightly import forget_person, health, inbox, ingest, restore_home, run_night
from gramrise.nightly.inbox import moves, taking
from gramrise.store import write_backup

NOW = START + timedelta(days=1)


def names(folder):
    return sorted(file.name for file in folder.iterdir()) if folder.is_dir() else []


def good_last(home):
    drop(home, "mia", "zz.csv", readings_csv(START, 20))


def assert_the_good_one_landed(store, night):
    assert night.failed == 0
    assert store.inputs("mia").readings.height == 240


def test_a_workbook_that_would_end_the_process_is_held_and_the_next_file_lands(store, home):
    drop(home, "mia", "a.xlsx", "").write_bytes(far_corners())
    good_last(home)
    night = run_night(store, home, NOW)
    assert names(home / "inbox" / "mia" / "held") == ["a.xlsx", "a.xlsx.why.txt"]
    assert_the_good_one_landed(store, night)


@pytest.mark.parametrize("fault", [AssertionError("amount"), IndexError("41 mg/dL"), MemoryError(), RecursionError()])
def test_a_reader_that_fails_in_an_unforeseen_way_costs_its_file_alone(store, home, monkeypatch, caplog, fault):
    drop(home, "mia", "a.csv", readings_csv(START, 1))
    good_last(home)
    real = ingest.refuse_contradiction

    def fails_once(overlap, file, person, settings):
        if file == "a.csv":
            raise fault
        real(overlap, file, person, settings)

    monkeypatch.setattr(ingest, "refuse_contradiction", fails_once)
    night = run_night(store, home, NOW)
    assert names(home / "inbox" / "mia" / "held") == ["a.csv", "a.csv.why.txt"]
    assert type(fault).__name__ in (home / "inbox" / "mia" / "held" / "a.csv.why.txt").read_text()
    assert_the_good_one_landed(store, night)
    (line,) = [record for record in caplog.records if record.getMessage() == "file held by a fault"]
    assert type(fault).__name__ in str(line.told)
    assert "mg/dL" not in str(line.told) + " ".join(night.held)


@pytest.mark.parametrize(
    "name",
    [b"m\xe4rz.csv", b"a" * 251 + b".csv", "ä".encode() * 125 + b".csv", b"\x1b[2J\x1b]0;x\x07.csv", b"a\nb.csv"],
)
@pytest.mark.parametrize("good", [True, False])
def test_a_name_that_is_no_text_or_too_long_or_steers_the_terminal(store, home, name, good):
    folder = os.fsencode(home / "inbox" / "mia")
    os.makedirs(folder, exist_ok=True)
    with open(os.path.join(folder, name), "w") as out:
        out.write(readings_csv(START, 10) if good else "what is this?\n")
    good_last(home)
    night = run_night(store, home, NOW)
    assert len(names(home / "inbox" / "mia" / ("done" if good else "held"))) == 2
    assert_the_good_one_landed(store, night)
    for sentence in [*night.held, *(each.sentence for each in health.check_health(home, NOW).findings)]:
        sentence.encode("utf-8")
        assert sentence.isprintable()


def test_a_plain_file_where_held_should_be_is_moved_aside_and_read(store, home):
    drop(home, "mia", "a.csv", "what is this?\n")
    drop(home, "mia", "held", readings_csv(START, 3))
    drop(home, "mia", "done", "nothing\n")
    good_last(home)
    night = run_night(store, home, NOW)
    assert {"a.csv", "a.csv.why.txt", "done-file"} <= set(names(home / "inbox" / "mia" / "held"))
    assert {"held-file", "zz.csv"} <= set(names(home / "inbox" / "mia" / "done"))
    assert sum("stood where the folder" in sentence for sentence in night.held) == 2
    assert_the_good_one_landed(store, night)


def test_what_is_no_plain_file_is_named_and_never_opened(store, home, tmp_path):
    folder = home / "inbox" / "mia"
    good_last(home)
    (folder / "link.csv").symlink_to(tmp_path / "elsewhere.csv")
    os.mkfifo(folder / "pipe.csv")  # to open it would wait for ever
    (folder / "folder.csv").mkdir()
    with socket.socket(socket.AF_UNIX) as bound:
        here = os.getcwd()
        os.chdir(folder)
        bound.bind("socket.csv")
        os.chdir(here)
        night = run_night(store, home, NOW)
    told = " ".join(night.held)
    for kind, name in (("link", "link"), ("named pipe", "pipe"), ("folder", "folder"), ("socket", "socket")):
        assert f"inbox/mia/{name}.csv: it is a {kind} and is not read" in told
    assert [each.code for each in health.check_health(home, NOW).findings].count("inbox_left_alone") == 4
    assert_the_good_one_landed(store, night)


def test_two_inboxes_that_are_one_folder_are_read_for_nobody(store, home):
    good_last(home)
    (home / "inbox" / "tom").symlink_to(home / "inbox" / "mia")
    night = run_night(store, home, NOW)
    assert night.files == 0
    assert store.inputs("mia").readings.is_empty()
    assert store.inputs("tom").readings.is_empty()
    assert sum("it is one folder with" in sentence for sentence in night.held) == 2
    codes = [each.code for each in health.check_health(home, NOW).findings]
    assert (codes.count("inbox_shared"), codes.count("inbox_waiting")) == (2, 0)
    (home / "inbox" / "tom").unlink()
    assert_the_good_one_landed(store, run_night(store, home, NOW))


def test_a_file_written_on_while_it_is_read_is_left_and_read_whole_the_next_time(store, home, monkeypatch):
    growing = drop(home, "mia", "march.csv", readings_csv(START, 10))
    real = ingest.refuse_contradiction

    def meanwhile(*args):
        real(*args)
        growing.write_text(readings_csv(START, 20))

    with monkeypatch.context() as patched:
        patched.setattr(ingest, "refuse_contradiction", meanwhile)
        night = run_night(store, home, NOW)
    assert (night.files, night.failed) == (0, 0)
    assert "it was written to while it was read" in " ".join(night.held)
    assert store.inputs("mia").readings.is_empty()
    assert run_night(store, home, NOW).rows == 240


def test_a_file_written_on_between_commit_and_move_stays_for_the_next_pass(store, home, monkeypatch):
    growing = drop(home, "mia", "march.csv", readings_csv(START, 10))
    real = taking.take_in_file

    def then_more(*args, **how):
        found = real(*args, **how)
        growing.write_text(readings_csv(START, 20))
        return found

    with monkeypatch.context() as patched:
        patched.setattr(taking, "take_in_file", then_more)
        assert run_night(store, home, NOW).rows == 120
    assert names(home / "inbox" / "mia") == ["march.csv"]
    assert run_night(store, home, NOW).rows == 120
    assert store.inputs("mia").readings.height == 240


def test_a_file_of_done_that_grew_comes_back_and_gives_its_tail(store, home):
    drop(home, "mia", "march.csv", readings_csv(START, 10))
    run_night(store, home, NOW)
    (home / "inbox" / "mia" / "done" / "march.csv").write_text(readings_csv(START, 20))
    night = run_night(store, home, NOW)
    assert (night.files, night.rows) == (1, 120)
    assert "it was written to after it was taken in" in " ".join(night.held)
    assert names(home / "inbox" / "mia" / "done") == ["march.csv"]
    assert run_night(store, home, NOW).files == 0


def test_what_the_inbox_makes_is_for_its_owner_only_under_any_umask(store, home):
    before = os.umask(0)
    try:
        inbox.make_inboxes(home, store.persons())
        drop(home, "mia", "a.csv", "what is this?\n")
        good_last(home)
        run_night(store, home, NOW)
    finally:
        os.umask(before)
    made = [home / "inbox", *(path for path in (home / "inbox").rglob("*") if path.is_dir() or "why" in path.name)]
    made.append(home / "inbox" / "mia" / ".done.json")
    assert len(made) >= 6
    assert [str(path) for path in made if stat.S_IMODE(path.stat().st_mode) & 0o077] == []


@pytest.mark.parametrize(("number", "said"), [(errno.EROFS, "for reading only"), (errno.ENOSPC, "the disk is full")])
def test_a_disk_that_cannot_be_written_is_named_truly_and_nothing_is_lost(store, home, monkeypatch, number, said):
    good_last(home)

    def refused(*_):
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patched:
        patched.setattr(moves.os, "replace", refused)
        night = run_night(store, home, NOW)
    assert said in " ".join(night.held)
    assert names(home / "inbox" / "mia") == ["done", "zz.csv"]
    assert run_night(store, home, NOW).files == 1


@pytest.mark.parametrize("name", ["held", "done"])
def test_a_link_in_the_place_of_our_folder_is_put_aside_and_never_followed(store, home, tmp_path, name):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    drop(home, "mia", "a.csv", "no table at all\n")
    (home / "inbox" / "mia" / name).symlink_to(elsewhere)
    good_last(home)
    night = run_night(store, home, NOW)
    assert names(elsewhere) == []
    assert names(home / "inbox" / "mia" / "held") == ["a.csv", "a.csv.why.txt"]
    assert (home / "inbox" / "mia" / f"{name}-link").is_symlink()
    assert [line for line in night.held if "was not followed" in line]
    assert_the_good_one_landed(store, night)


def test_the_reason_stands_beside_a_held_file_before_it_is_moved_there(store, home, monkeypatch):
    file = drop(home, "mia", "a.csv", "no table at all\n")
    monkeypatch.setattr(moves.os, "replace", _killed)
    with pytest.raises(KeyboardInterrupt):
        moves.hold(file, "held", "it is no table.")
    monkeypatch.undo()
    assert names(home / "inbox" / "mia" / "held") == ["a.csv.why.txt"]
    run_night(store, home, NOW)
    assert names(home / "inbox" / "mia" / "held") == ["a.csv", "a.csv.why.txt"]


def _killed(source, target):
    if not str(source).endswith(".growing"):
        raise KeyboardInterrupt
    os.rename(source, target)


@pytest.mark.parametrize("place", ["inbox/mia", "inbox"])
def test_a_file_where_a_folder_has_to_be_makes_way_and_costs_nobody_a_night(store, home, place):
    (home / place).parent.mkdir(exist_ok=True)
    (home / place).write_text(readings_csv(START, 1))
    night = run_night(store, home, NOW)
    assert night.failed == 0
    assert "a file stood where the folder" in " ".join(night.held)
    assert (home / f"{place}-file").read_text() == readings_csv(START, 1)
    good_last(home)
    assert_the_good_one_landed(store, run_night(store, home, NOW + timedelta(days=1)))


@pytest.mark.parametrize("in_the_way", [".done.json pipe", ".done.json folder", "..done.json.growing folder"])
def test_what_stands_where_the_memory_of_a_folder_is_kept_costs_no_night(store, home, in_the_way):
    name, kind = in_the_way.split()
    folder = home / "inbox" / "mia"
    folder.mkdir(parents=True, exist_ok=True)
    (os.mkfifo if kind == "pipe" else os.mkdir)(folder / name)
    good_last(home)
    assert_the_good_one_landed(store, run_night(store, home, NOW))
    assert names(folder / "done") == ["zz.csv"]
    assert run_night(store, home, NOW + timedelta(days=1)).failed == 0


@pytest.fixture
def closed(home, monkeypatch):
    """Tom's inbox as it is for a user who may not enter it; the tests may run as root, whom no rights stop."""
    drop(home, "tom", "theirs.csv", readings_csv(START, 10))
    shut, access, listing = home / "inbox" / "tom", os.access, os.listdir

    def under(path):
        return shut in (path := type(shut)(path), *path.parents)

    def listed(path="."):
        if isinstance(path, str | os.PathLike) and under(path):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        return listing(path)

    monkeypatch.setattr(os, "access", lambda path, mode, **how: not under(path) and access(path, mode, **how))
    monkeypatch.setattr(os, "listdir", listed)
    monkeypatch.setattr(shutil, "rmtree", lambda *_, **__: None)
    return shut


def test_an_inbox_that_cannot_be_opened_is_named_and_costs_nobody_else_the_night(store, home, closed):
    good_last(home)
    night = run_night(store, home, NOW)
    assert_the_good_one_landed(store, night)
    assert any("inbox/tom: the folder cannot be used" in told for told in night.held)
    assert "inbox_closed" in [each.code for each in health.check_health(home, NOW).findings]


def test_forgetting_somebody_whose_inbox_cannot_be_opened_does_not_say_that_it_is_done(store, home, closed):
    with pytest.raises(CouldNotRun, match="inbox/tom could not be deleted"):
        forget_person(store, home, "tom")
    assert list(store.being_forgotten()) == ["tom"]
    assert [each.person_id for each in store.persons()] == ["mia"]


def test_a_restore_says_which_folder_of_done_it_could_not_look_into(store, home, closed, tmp_path):
    write_backup(home, tmp_path / "copy.db")
    (closed / "done").mkdir(exist_ok=True)
    restored = restore_home(home, tmp_path / "copy.db", NOW)
    assert restored.unread == ["inbox/tom/done"]


def test_hidden_files_and_files_that_are_not_whole_yet_are_named_and_not_read(store, home):
    folder = home / "inbox" / "mia"
    good_last(home)
    kept = (".DS_Store", ".~lock.a.csv#", ".keep")
    for name in (".hidden.csv", "a.csv.part", "b.csv.crdownload", "c.csv.TMP", "...", *kept):
        (folder / name).write_text("time,glucose (mg/dL)\n2026-03-02T10:00Z,100\n")
    night = run_night(store, home, NOW)
    told = [each.partition(". To mend")[0] for each in night.held if each.startswith("inbox/mia/")]
    not_whole = "it is named as a file that is not whole yet, and is not read"
    assert told == [
        "inbox/mia/...: it is a hidden file and is not read",
        "inbox/mia/.hidden.csv: it is a hidden file and is not read",
        f"inbox/mia/a.csv.part: {not_whole}",
        f"inbox/mia/b.csv.crdownload: {not_whole}",
        f"inbox/mia/c.csv.TMP: {not_whole}",
    ]
    assert (folder / "a.csv.part").exists()
    assert_the_good_one_landed(store, night)


@pytest.mark.parametrize(
    "content",
    [
        "[" * 200_000,
        '{"',
        '{"a.csv": 5}',
        '{"../../../outside/secret.csv": [1, 2, "x"]}',
        "{}" + " " * 2_000_000,
        '{"": [1, 2]}',
        '{"\\ud800": ["\\ud800", 2]}',
        '{"x\\u0000": [1, 2, "a"]}',
        '{"../../../gramrise.db": [1, 2, "a"]}',
    ],
    ids=["deep", "cut", "number", "elsewhere", "large", "nameless", "surrogate", "zero", "database"],
)
def test_whatever_stands_in_the_place_of_our_memory_costs_nobody_a_night(store, home, content):
    """A family writes into its inbox; what lay there in the place of a file of ours once stopped everybody's night."""
    (home / "inbox" / "mia").mkdir(parents=True)
    (home / "inbox" / "mia" / ".done.json").write_text(content)
    outside = home / "outside"
    outside.mkdir()
    (outside / "secret.csv").write_text("private\n")
    good_last(home)
    assert_the_good_one_landed(store, run_night(store, home, NOW))
    assert (outside / "secret.csv").read_text() == "private\n"
    assert (home / "gramrise.db").is_file()  # moved away, the open store would write on without noticing


def test_an_inbox_that_is_a_link_to_elsewhere_is_put_aside_and_what_it_leads_to_stays(store, home, tmp_path):
    """It was followed: what lay there was moved into `held` and `done`, whoever it belonged to."""
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "letter.txt").write_text("private\n")
    (elsewhere / "table.csv").write_text(readings_csv(START, 5))
    (home / "inbox").mkdir(exist_ok=True)
    (home / "inbox" / "tom").symlink_to(elsewhere)
    good_last(home)
    night = run_night(store, home, NOW)
    assert names(elsewhere) == ["letter.txt", "table.csv"]
    assert (home / "inbox" / "tom-link").is_symlink()
    assert [line for line in night.held if "was not followed" in line]
    assert_the_good_one_landed(store, night)
    run_night(store, home, NOW + timedelta(days=400))
    assert names(elsewhere) == ["letter.txt", "table.csv"]


def test_forget_deletes_the_link_of_an_inbox_and_nothing_behind_it(store, home, tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "letter.txt").write_text("private\n")
    (home / "inbox").mkdir(exist_ok=True)
    (home / "inbox" / "tom").symlink_to(elsewhere)
    forget_person(store, home, "tom")
    assert names(elsewhere) == ["letter.txt"]
    assert not (home / "inbox" / "tom").is_symlink()


@pytest.mark.parametrize("kind", ["pipe", "folder", "deep", "device", "large"])
def test_what_is_no_layout_is_named_and_never_waited_for(store, home, kind):
    layouts = home / "layouts"
    layouts.mkdir()
    match kind:
        case "pipe":
            os.mkfifo(layouts / "x.toml")
        case "folder":
            (layouts / "x.toml").mkdir()
        case "deep":
            (layouts / "x.toml").write_text("a=" + "[" * 100_000)
        case "device":
            (layouts / "x.toml").symlink_to("/dev/zero")
        case "large":
            (layouts / "x.toml").write_text("# " + "x" * 1_100_000)
    good_last(home)
    night = run_night(store, home, NOW)
    assert (night.failed, night.files_held) == (0, 0)
    assert any("layout x.toml" in told for told in night.held)
    assert "layout_broken" in {each.code for each in health.check_health(home, NOW).findings}
    shutil.rmtree(layouts)  # once it is mended the files, which waited where they lay, are read by themselves
    assert_the_good_one_landed(store, run_night(store, home, NOW))


def test_a_folder_in_the_place_of_the_lock_is_named(store, home):
    (home / "nightly.lock").mkdir()
    with pytest.raises(CouldNotRun, match=r"nightly\.lock cannot be opened"):
        run_night(store, home, NOW)


@pytest.mark.parametrize("where", ["inbox/mia", "inbox/mia/held", "inbox/mia/done"])
def test_a_pipe_where_a_folder_has_to_be_is_put_aside_and_told_as_no_folder(store, home, where):
    shutil.rmtree(home / where, ignore_errors=True)
    (home / where).parent.mkdir(parents=True, exist_ok=True)
    os.mkfifo(home / where)
    night = run_night(store, home, NOW)
    assert [each for each in night.held if "something that is no folder stood" in each]
    assert (home / f"{where}-file").is_fifo()
    assert not (home / where).is_fifo()
