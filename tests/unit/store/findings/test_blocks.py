"""Findings and remembered results as blocks that prove themselves: what does not agree is as good as none."""

from datetime import timedelta

import alembic.command
import numpy as np
import pytest
from alembic.config import Config
from support.store_logs import NOW, batch, child, readings

from gramrise.domain.findings import Findings
from gramrise.domain.memo import Block
from gramrise.domain.pictures import Drawn
from gramrise.store import Store, database

DAY_US = 86_400_000_000


def picture(day, key=b"key"):
    line = np.array([80.0, 81.0, 82.0])
    return Block("picture", day * DAY_US, key, 3, 0, 0, Drawn(0, 80.0, 30.0, line, line, line).packed())


def save(store, *blocks, at=NOW, person_id="mia"):
    """Findings with these results, each recalled where it stands."""
    with store.to_find_from(person_id) as known:
        memo = known.memo
    for block in blocks:
        if memo.recall(block.kind, block.slot, block.key) is None:
            memo.remember(block)
    assert store.save_findings(person_id, Findings(at), memo=memo)


def remembered(store, person_id="mia"):
    """Keys by slot of the pictures that the next night may recall."""
    with store.to_find_from(person_id) as known:
        memo = known.memo
    return {day for day in range(9) if memo.recall("picture", day * DAY_US, b"key") is not None}


def pictures_n(store, person_id="mia"):
    found = store.findings(person_id)
    return None if found is None else found.paths["first_dose_utc"].n_unique()


def rows(store, what="*"):
    with store.reading() as connection:
        return connection.exec_driver_sql(f"SELECT {what} FROM blocks ORDER BY 1, 2, 3").fetchall()


def spoil(store, change):
    with store.writing() as connection:
        connection.exec_driver_sql(change)


def test_the_next_night_recalls_what_the_last_one_left(store):
    save(store, picture(1), picture(2))
    assert remembered(store) == {1, 2}
    assert pictures_n(store) == 2
    assert store.verify_blocks() == []


def test_what_a_night_does_not_use_goes(store):
    save(store, picture(1), picture(2))
    save(store, picture(2), picture(3))
    assert remembered(store) == {2, 3}
    assert pictures_n(store) == 2


def test_each_block_says_whose_it_is_and_what_it_holds(store):
    save(store, picture(1))
    owner, kind, slot, _, model, rows_n = next(row[:6] for row in rows(store) if row[1] == "picture")
    assert (owner, kind, slot, rows_n) == ("mia", "picture", DAY_US, 3)
    assert model


@pytest.mark.in_a_file
@pytest.mark.parametrize(
    "change",
    [
        "UPDATE blocks SET content = substr(content, 1, length(content) - 1) WHERE kind = 'picture'",
        "UPDATE blocks SET content = CAST(x'07' || substr(content, 2) AS BLOB) WHERE kind = 'picture'",
        "UPDATE blocks SET content = 'text' WHERE kind = 'picture'",
        "UPDATE blocks SET rows_n = rows_n + 1 WHERE kind = 'picture'",
        "UPDATE blocks SET slot = slot + 1 WHERE kind = 'picture'",
        "UPDATE blocks SET first_us = 'x' WHERE kind = 'picture'",
        "UPDATE blocks SET key = x'' WHERE kind = 'picture'",
        "UPDATE blocks SET hash = x'' WHERE kind = 'picture'",
        "DELETE FROM blocks WHERE kind = 'picture'",
    ],
)
def test_a_damaged_result_is_neither_recalled_nor_shown_and_is_made_anew(store, change):
    save(store, picture(1))
    before = rows(store)
    spoil(store, change)
    assert remembered(store) == set()
    assert store.findings("mia") is None
    assert not store.findings_are_current("mia")
    assert {each.kind for each in store.verify_blocks("mia")} >= {"findings"}
    save(store, picture(1))
    assert (rows(store), store.verify_blocks()) == (before, [])


def test_a_row_of_findings_that_was_changed_shows_nothing(store):
    save(store, picture(1))
    spoil(store, "UPDATE findings SET log_next = 'weight'")
    assert store.findings("mia") is None
    assert remembered(store) == {1}  # results stand for themselves


@pytest.mark.in_a_file
def test_a_result_of_another_night_is_not_shown_with_the_findings_of_this_one(store):
    save(store, picture(1))
    with store.reading() as connection:
        old = connection.exec_driver_sql("SELECT * FROM blocks WHERE kind = 'factors'").fetchone()
    save(store, picture(1), picture(2))
    save(store, picture(1, b"new"), at=NOW + timedelta(days=1))
    spoil(store, "DELETE FROM blocks WHERE kind = 'factors'")
    with store.writing() as connection:
        connection.exec_driver_sql(f"INSERT INTO blocks VALUES ({','.join('?' * len(old))})", tuple(old))
    assert store.findings("mia") is not None  # the same frame: nothing differs
    spoil(store, f"UPDATE blocks SET slot = {2 * DAY_US} WHERE kind = 'picture'")
    assert store.findings("mia") is None


def test_another_persons_result_never_counts(store):
    store.save_person(child("ben"))
    save(store, picture(1))
    save(store, picture(1), person_id="ben")
    spoil(store, "DELETE FROM blocks WHERE person_id = 'ben'")
    spoil(store, "UPDATE blocks SET person_id = 'ben'")
    for person_id in ("mia", "ben"):
        assert remembered(store, person_id) == set()
        assert store.findings(person_id) is None
    assert {each.person_id for each in store.verify_blocks()} == {"mia", "ben"}


def test_findings_saved_without_remembered_results_leave_none_behind(store):
    save(store, picture(1))
    store.save_findings("mia", Findings(NOW))
    assert remembered(store) == set()
    assert pictures_n(store) == 0


@pytest.mark.in_a_file
def test_what_stands_is_not_written_again(store):
    save(store, picture(1), picture(2))
    spoil(
        store,
        "CREATE TRIGGER written BEFORE INSERT ON blocks WHEN NEW.kind = 'picture' BEGIN SELECT RAISE(ABORT, 'w'); END",
    )
    save(store, picture(1), picture(2), at=NOW + timedelta(days=1))
    assert pictures_n(store) == 2


def test_a_forgotten_child_leaves_no_blocks(store):
    save(store, picture(1))
    store.forget("mia")
    assert rows(store) == []


@pytest.mark.parametrize("step", ["0002", "0003", "0004"])
def test_a_store_of_an_earlier_step_is_opened_and_its_findings_are_found_anew(home, step):
    with Store.open(home) as store:
        store.save_person(child())
        store.take_in(batch(readings=readings([90 + n % 40 for n in range(500)])), NOW)
        held = store.inputs("mia").readings
    engine, config = database.engine_for(f"sqlite:///{home / 'gramrise.db'}"), Config()
    config.set_main_option("script_location", str(database.MIGRATIONS))
    with engine.connect() as connection, connection.begin():
        config.attributes["connection"] = connection
        alembic.command.downgrade(config, step)
        if step != "0002":
            connection.exec_driver_sql("INSERT INTO traces VALUES ('mia', 7, x'00')")
    engine.dispose()
    with Store.open(home) as store:
        assert store.inputs("mia").readings.equals(held)
        assert store.findings("mia") is None
        assert remembered(store) == set()
