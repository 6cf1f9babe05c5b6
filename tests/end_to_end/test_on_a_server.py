"""The same home with its rows in a file and in a server's database: the same nights, whatever happens to them."""

import os
import signal
import threading
import time
from contextlib import suppress
from pathlib import Path

import psycopg
import pytest
from support.night_state import SUNDAY, copy_of, make_home, state_of

from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.nightly import forget_person, restore_home, run_night
from gramrise.store import Store, write_backup

pytestmark = pytest.mark.slow

# Moments at which a night on a server is killed; GRAMRISE_KILLS sets another number (200 in the benchmark).
KILLS = 3


@pytest.fixture(scope="module")
def untouched(tmp_path_factory):
    """Two children with a week of logs in their inboxes, rows in a file."""
    return make_home(tmp_path_factory.mktemp("untouched") / "home")


@pytest.fixture(scope="module")
def in_a_file(untouched, tmp_path_factory):
    """What the night leaves where the rows are in a file."""
    home = copy_of(untouched, tmp_path_factory.mktemp("in-a-file") / "home")
    night(home)
    return state_of(home)


@pytest.fixture
def moved(untouched, postgres_url, tmp_path):
    """The home, moved to a server by a backup and a restore."""
    return move(untouched, postgres_url, tmp_path / "home")


def move(untouched, url, to):
    home = copy_of(untouched, to)
    moving = to.with_name(f"{to.name}-moving.db")
    write_backup(home, moving)
    for file in home.glob("gramrise.db*"):
        file.unlink()
    settings = (home / "gramrise.toml").read_text("utf-8")
    (home / "gramrise.toml").write_text(f'database = "{url}"\n{settings}', encoding="utf-8")
    restore_home(home, moving, SUNDAY)
    return home


def night(home, **more):
    with Store.open(home) as store:
        return run_night(store, home, SUNDAY, **more)


def told(home, line):
    """Adds a line to the home's settings of the service."""
    text = (home / "gramrise.toml").read_text("utf-8")
    (home / "gramrise.toml").write_text(text.replace("[nightly]\n", f"[nightly]\n{line}\n"), encoding="utf-8")


def test_a_night_finds_the_same_to_the_last_digit_on_a_server_as_in_a_file(moved, in_a_file):
    assert not (moved / "gramrise.db").exists()
    assert in_a_file["mia"]["treatments"]
    night(moved)
    after = state_of(moved)
    for part, was in in_a_file.items():
        assert after[part] == was, part


def test_two_processes_on_a_server_leave_what_one_leaves_in_a_file(moved, in_a_file):
    told(moved, 'workers = "processes"\nworker_processes = 2\npersons_per_task = 1')
    assert night(moved).persons == 2
    assert state_of(moved) == in_a_file


def test_a_server_stopped_in_the_middle_of_a_night_is_told_and_the_next_night_does_the_rest(
    moved, in_a_file, postgres_server, monkeypatch
):
    from gramrise.nightly.workers import persons

    real, begun = persons.bring_up_to_date, []

    def stops_before_tom(store, person_id, *rest, **more):
        begun.append(person_id)
        if person_id == "tom":
            postgres_server.stop()
        return real(store, person_id, *rest, **more)

    monkeypatch.setattr(persons, "bring_up_to_date", stops_before_tom)
    try:
        with Store.open(moved) as store, pytest.raises(CouldNotRun, match="does not answer or went away") as trouble:
            run_night(store, moved, SUNDAY)
        with pytest.raises(CouldNotRun) as still:
            Store.open(moved)
    finally:
        with suppress(RuntimeError):
            postgres_server.start()
    assert (trouble.value.code, still.value.code, begun) == ("server_gone", "server_gone", ["mia", "tom"])
    monkeypatch.setattr(persons, "bring_up_to_date", real)
    night(moved)
    assert state_of(moved) == in_a_file


def test_two_machines_do_not_work_on_one_night_at_once(moved, tmp_path):
    other = tmp_path / "other machine"
    other.mkdir(mode=0o700)
    (other / "gramrise.toml").write_bytes((moved / "gramrise.toml").read_bytes())
    refused = []

    def asked_meanwhile():
        try:
            night(other)
        except CouldNotRun as trouble:
            refused.append(trouble.code)
        return False

    night(moved, stop=asked_meanwhile)
    assert refused[:1] == ["already_running"]
    night(other)  # the lock went with the night that held it
    with Store.open(other) as store:
        assert [letter.state for letter in store.outbox.all()] == ["sent", "sent"]


def test_the_lock_of_a_night_that_was_killed_is_free_at_once(moved):
    child = os.fork()
    if child == 0:
        with suppress(BaseException):
            night(moved, sleep=lambda _s: None, stop=lambda: os.kill(os.getpid(), signal.SIGKILL) or True)
        os._exit(1)
    _, status = os.waitpid(child, 0)
    assert os.WTERMSIG(status) == signal.SIGKILL
    assert wait_until_free(moved).persons == 2


def test_writers_of_one_person_wait_for_each_other_and_those_of_others_do_not(moved):
    order = []

    def writes(store, whose, name):
        with store.writing(whose):
            order.append(name)

    with Store.open(moved) as store:
        with store.writing("mia"):
            same = threading.Thread(target=writes, args=(store, "mia", "the same child"))
            same.start()
            writes(store, "tom", "another child")
            time.sleep(0.2)
            order.append("end of the first")
        same.join()
        with store.writing("mia"):
            everybody = threading.Thread(target=writes, args=(store, None, "everybody"))
            everybody.start()
            time.sleep(0.2)
            order.append("end of the second")
        everybody.join()
    assert order == ["another child", "end of the first", "the same child", "end of the second", "everybody"]


def test_two_who_start_on_an_empty_database_make_its_tables_once(postgres_server, tmp_path):
    url, opened = postgres_server.new_database(), []

    def open_it(number):
        with Store.open(tmp_path / str(number), url) as store:
            opened.append(store.persons())

    both = [threading.Thread(target=open_it, args=(number,)) for number in range(2)]
    for each in both:
        each.start()
    for each in both:
        each.join()
    postgres_server.drop(url)
    assert opened == [[], []]


def kills_at(moved, untouched, in_a_file, tmp_path, moments):
    """Kills a night on a server at moments, each on a home moved anew, and runs it again."""
    cut = 0
    for number, moment in enumerate(moments):
        nothing_sent(database_url(moved))
        home = move(untouched, database_url(moved), tmp_path / f"home-{number}")
        child = os.fork()
        if child == 0:
            with suppress(BaseException):
                night(home)
            os._exit(0)
        time.sleep(moment)
        with suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)
        cut += os.WIFSIGNALED(os.waitpid(child, 0)[1])
        wait_until_free(home)
        after = state_of(home)
        for part, was in in_a_file.items():
            assert after[part] == was, f"{part} differs after a kill at {moment:.3f} s"
    return cut


def nothing_sent(url):
    """Forgets the letters of the night before: those that went out, a restore does not send again."""
    with psycopg.connect(url.replace("+psycopg", "")) as connection:
        connection.execute("DELETE FROM outbox")


def database_url(home):
    from gramrise.config.settings import database_url

    return database_url(home)


def wait_until_free(home):
    """Runs a night, as soon as the server has noticed that the killed one's session is over."""
    for _ in range(100):
        with suppress(AlreadyRunning):
            return night_if_free(home)
        time.sleep(0.05)
    pytest.fail("the lock of a killed night was never let go")


class AlreadyRunning(Exception):
    pass


def night_if_free(home):
    try:
        return night(home)
    except CouldNotRun as trouble:
        raise AlreadyRunning if trouble.code == "already_running" else trouble from trouble


def test_a_night_on_a_server_killed_anywhere_is_completed_by_the_next(moved, untouched, in_a_file, tmp_path):
    (tmp_path / "timed").mkdir()
    timed = move(untouched, database_url(moved), tmp_path / "timed" / "home")
    begun = time.monotonic()
    night(timed)
    took = time.monotonic() - begun
    kills = int(os.environ.get("GRAMRISE_KILLS", KILLS))
    assert kills_at(moved, untouched, in_a_file, tmp_path, [took * (n + 0.5) / kills for n in range(kills)])


def test_whoever_is_forgotten_stands_in_no_row_of_the_server_any_more(moved, postgres_server):
    night(moved)
    with Store.open(moved) as store:
        assert rows_that_name(database_url(moved), "mia")
        done = forget_person(store, moved, "mia")
        assert [person.person_id for person in store.persons()] == ["tom"]
    assert rows_that_name(database_url(moved), "mia") == []
    assert done.files
    files = [file for file in Path(moved).rglob("*") if file.is_file()]
    assert [file for file in files if "mia" in file.name] == []
    # Letters of the other child are bytes in which any three letters may stand by chance.
    left = [file.name for file in files if (b"mia@" if file.suffix == ".eml" else b"mia") in file.read_bytes()]
    assert left == ["gramrise.toml"]


def rows_that_name(url, word):
    """Tables with a row in which a word stands anywhere, as text or inside bytes; of letters all but their bytes."""
    with psycopg.connect(url.replace("+psycopg", "")) as connection:
        named = "SELECT tablename FROM pg_tables WHERE schemaname = 'public'"
        tables = [name for (name,) in connection.execute(named)]
        row = "(to_jsonb(t) - 'message')::text"
        searched = f'SELECT count(*) FROM "{{}}" AS t WHERE {row} LIKE %s OR {row} LIKE %s'
        words = (f"%{word}%", f"%{word.encode().hex()}%")
        return [name for name in tables if connection.execute(searched.format(name), words).fetchone()[0]]


def test_a_restore_leaves_a_server_as_it_was_at_the_backup_and_keeps_what_was_there(moved, tmp_path):
    night(moved)
    before = state_of(moved)
    write_backup(moved, tmp_path / "copy.db")
    with Store.open(moved) as store:
        store.forget("tom")
    done = restore_home(moved, tmp_path / "copy.db", SUNDAY)
    assert done.kept.name == "gramrise.db.before-restore-2"  # the first was made by the move
    after = state_of(moved)
    assert after["tom"]["readings"] == before["tom"]["readings"]
    assert {part: after[part] for part in ("imports", "letters", "mia")} == {
        part: before[part] for part in ("imports", "letters", "mia")
    }
    with Store.open(moved) as store:  # the server goes on counting where the backup was
        assert store.runs.begin("nightly", SUNDAY) > 1


def test_an_address_that_is_none_of_a_server_is_told(tmp_path):
    (tmp_path / "gramrise.toml").write_text('database = "mysql://somewhere/else"\n')
    with pytest.raises(WrongUse, match="no address of a PostgreSQL database"):
        Store.open(tmp_path)
