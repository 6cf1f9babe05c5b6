"""One file into the store: large ones in blocks, another child's file asked about."""

from datetime import UTC, datetime, timedelta

import pytest
from support.nightly_home import child

from gramrise.intake import FileWaits
from gramrise.nightly.ingest import take_in_file
from gramrise.store import Store

NOW = datetime(2026, 3, 9, 8, tzinfo=UTC)


def readings(rows, shift=0):
    start = datetime(2026, 2, 1, tzinfo=UTC)
    lines = [f"{start + timedelta(minutes=5 * n):%Y-%m-%dT%H:%M:%SZ},{90 + (7 * n + shift) % 60}" for n in range(rows)]
    return "time,glucose (mg/dL)\n" + "\n".join(lines) + "\n"


@pytest.fixture
def two(tmp_path):
    """A store with two children."""
    with Store.open(tmp_path / "home") as store:
        for name in ("ada", "ben"):
            store.save_person(child(name))
        yield store, tmp_path


def taken(store, folder, who, text, **how):
    file = folder / "r.csv"
    file.write_text(text, "utf-8")
    return take_in_file(store, folder / "home", store.person(who), file, NOW, **how)


def test_a_file_whose_readings_another_child_has_is_held_and_says_none_of_them(two):
    store, folder = two
    taken(store, folder, "ada", readings(400))
    with pytest.raises(FileWaits, match="400 of its readings equal those known of ada") as held:
        taken(store, folder, "ben", readings(400))
    assert held.value.code == "whose_file"
    assert store.inputs("ben").readings.height == 0
    assert store.questions("ben") == []
    values = {f"{value:g}" for value in store.inputs("ada").readings["glucose_mg_dl"].to_list()} - {"400"}
    assert len(values) > 10
    assert not values & set(str(held.value).replace(",", " ").replace(".", " ").split())


def test_a_file_of_19_equal_readings_is_not_held(two):
    store, folder = two
    taken(store, folder, "ada", readings(19))
    one_more = readings(20).splitlines()[-1]
    other = readings(19) + one_more.rsplit(",", 1)[0] + ",251\n"
    assert taken(store, folder, "ben", other).questions_n == 0
    assert store.inputs("ben").readings.height == 20


LOG = "time,glucose given (g)\n2026-03-01T02:10+01:00,9\n2026-03-02T03:20+01:00,4.5\n"


def test_the_very_same_log_of_glucose_given_waits_for_a_sibling_and_lands_when_it_is_said_to_be_theirs(two):
    store, folder = two
    assert taken(store, folder, "ada", LOG).rows == 2
    with pytest.raises(FileWaits, match="the very same file was taken in for ada") as held:
        taken(store, folder, "ben", LOG)
    assert held.value.code == "whose_file"
    assert store.inputs("ben").doses.height == 0
    assert taken(store, folder, "ben", LOG.replace("4.5", "4.6")).rows == 2
    assert taken(store, folder, "ben", LOG, replace=True).rows == 1  # the mended amount; the other is known


def test_a_file_that_is_said_to_be_right_all_the_same_is_asked_about(two):
    store, folder = two
    assert taken(store, folder, "ada", readings(400)).questions_n == 0
    assert taken(store, folder, "ben", readings(400), replace=True).questions_n == 1
    assert [a.question.kind for a in store.questions("ben")] == ["whose_file"]


def test_another_childs_file_that_was_answered_so_is_taken_back(two):
    store, folder = two
    taken(store, folder, "ada", readings(400))
    taken(store, folder, "ben", readings(400), replace=True)
    store.answer(store.questions("ben")[0].question_id, "ada", "terminal", NOW)
    assert store.inputs("ben").readings.height == 0
    assert store.inputs("ada").readings.height == 400


def test_children_whose_levels_only_resemble_each_other_are_not_asked_about(two):
    store, folder = two
    taken(store, folder, "ada", readings(400))
    assert taken(store, folder, "ben", readings(400, shift=1)).questions_n == 0


def test_a_dry_run_says_what_would_come_and_changes_nothing(two):
    store, folder = two
    told = taken(store, folder, "ada", readings(400), dry_run=True)
    assert told.rows == 400
    assert told.summaries[0].dry_run
    assert store.inputs("ada").readings.height == 0
    assert store.imports("ada") == []


def test_a_large_file_comes_in_blocks_and_is_one_file_the_second_time(two, monkeypatch):
    store, folder = two
    (folder / "home" / "gramrise.toml").write_text("[intake]\nblock_bytes = 60_000\ncareful_bytes = 60_000\n", "utf-8")
    seen = []
    first = taken(store, folder, "ada", readings(6000), tell=seen.append)
    assert first.rows == 6000
    assert len(first.summaries) > 1
    assert seen == sorted(seen)
    again = taken(store, folder, "ada", readings(6000))
    assert again.rows == 0
    assert all(summary.known_file for summary in again.summaries)


def log(*rows):
    return "time,source,amount\n" + "".join(f"2026-03-0{at}+00:00,{source},{amount}\n" for at, source, amount in rows)


THIRD = ("4T02:00", "tin", "1 piece")
FIRST, SECOND = ("2T02:10", "tin", "2 pieces"), ("3T02:40", "tin", "1 piece")


@pytest.mark.parametrize(
    "again",
    [
        [("2T02:20", "tin", "2 pieces"), SECOND, ("4T02:00", "tin", "1 piece")],
        [("2T02:10", "", "8 g"), SECOND],
        [FIRST, ("3T02:40", "tin", "0"), THIRD],
        [FIRST],
    ],
    ids=["another time", "another source", "nothing", "taken out"],
)
def test_a_log_that_lacks_an_amount_it_brought_before_waits_and_after_an_undo_counts_as_it_is_now(again, two):
    store, folder = two
    taken(store, folder, "ada", log(FIRST, SECOND))
    with pytest.raises(FileWaits, match="is not in it any more") as held:
        taken(store, folder, "ada", log(*again))
    assert held.value.code == "amounts_gone"
    assert store.inputs("ada").doses.height == 2
    number = int(held.value.mend.split("gramrise undo ")[1].split(",")[0])
    store.undo(number, NOW)
    taken(store, folder, "ada", log(*again))
    assert store.inputs("ada").doses["taken_at_utc"].n_unique() == store.inputs("ada").doses.height <= len(again)


@pytest.mark.parametrize(
    "again",
    [
        [FIRST, SECOND, ("4T02:00", "tin", "1 piece")],
        [SECOND, ("4T02:00", "tin", "1 piece")],
        [("4T02:00", "tin", "2")],
    ],
    ids=["written on", "a later window", "the next night"],
)
def test_a_log_that_goes_on_under_its_name_is_read(again, two):
    store, folder = two
    taken(store, folder, "ada", log(FIRST, SECOND))
    taken(store, folder, "ada", log(*again))
    assert store.inputs("ada").doses.height == 3


def test_a_file_whose_days_lie_ahead_waits_and_one_slip_does_not_hold_the_rest(two):
    store, folder = two
    ahead = "time,glucose (mg/dL)\n" + "".join(f"2026-03-{day:02}T02:10Z,{90 + day}\n" for day in range(1, 21))
    with pytest.raises(FileWaits, match="the times of 10 of its 20 rows are in the future") as held:
        taken(store, folder, "ada", ahead)
    assert held.value.code == "times_ahead"
    taken(store, folder, "ada", readings(40) + "2027-02-01T00:00:00Z,100\n")
    assert store.inputs("ada").readings.height == 40
