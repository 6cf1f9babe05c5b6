"""Night after night on what changed gives what one look at everything gives, whatever is changed in between.

Tolerance: 1e-9 of each number (pictures hold seven digits, whether drawn now or on an earlier night).
"""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from random import Random

import polars as pl
import pytest
from polars.testing import assert_frame_equal
from virtual import CohortSpec, cohort

from gramrise.config.settings import load
from gramrise.detect import DetectSettings, detect
from gramrise.domain.bands import TimeBand
from gramrise.domain.batch import Batch
from gramrise.domain.frames import WEIGHTS
from gramrise.estimate import estimate, estimate_settings
from gramrise.nightly import run_person
from gramrise.nightly.one_person import bring_up_to_date, rules_of
from gramrise.store import Store

pytestmark = pytest.mark.slow

DAY = timedelta(days=1)
DAYS = 16
SPEC = CohortSpec(seed=3, persons=2, days=DAYS)
START = datetime(2025, 1, 6, tzinfo=UTC)
TABLES = {"readings": "at_utc", "fingers": "at_utc", "doses": "taken_at_utc", "events": "at_utc"}


def told_between(inputs, start, end, tables=tuple(TABLES), changed=lambda frame: frame):
    """What a person logged in [start, end), as one file."""
    within = {
        name: changed(getattr(inputs, name).filter(pl.col(TABLES[name]).is_between(start, end, closed="left")))
        for name in tables
    }
    return Batch(inputs.person.person_id, f"{start:%Y-%m-%d}.csv", f"{start}-{end}-{tables}", "plain", 0, **within)


def assert_as_looked_at_anew(store, who, now, home):
    """Everything that is stored is what detect and estimate say of the whole inputs, with nothing remembered."""
    inputs, found = store.inputs(who), store.findings(who)
    seen = detect(inputs, now, load("detect", DetectSettings, home))
    anew = estimate(inputs, seen.screened, seen.lows, now, estimate_settings(home))
    for name in ("lows", "treatments"):
        assert_frame_equal(getattr(found, name), getattr(seen, name))
    for name in ("pairings", "paths", "factors", "predictions"):
        assert_frame_equal(getattr(found, name), getattr(anew, name), abs_tol=1e-9, rel_tol=1e-9)
    assert (found.as_of_utc, found.log_next) == (now, anew.log_next)


@pytest.fixture(scope="module")
def people():
    return cohort(SPEC).inputs


class Nights:
    """Nights of one home: one by one, each held against one look at everything."""

    def __init__(self, home, people):
        self.home, self.people = home, people
        self.store = Store.open(home)
        for inputs in people:
            self.store.save_person(inputs.person)

    def put(self, start, end, now, **how):
        for inputs in self.people:
            self.store.take_in(told_between(inputs, start, end, **how), now)

    def night(self, now):
        rules = rules_of(self.home)()
        assert self.people
        for inputs in self.people:
            bring_up_to_date(self.store, inputs.person.person_id, now, rules, as_shown=True)
            assert_as_looked_at_anew(self.store, inputs.person.person_id, now, self.home)

    def until(self, days):
        """The first days, a file and a night each."""
        assert days > 0
        self.put(START - 3 * DAY, START, START)
        for day in range(days):
            now = START + (day + 1) * DAY + timedelta(hours=7)
            self.put(START + day * DAY, START + (day + 1) * DAY, now)
            self.night(now)
        return now


@pytest.fixture
def nights(tmp_path, people):
    made = Nights(tmp_path / "home", people)
    yield made
    made.store.close()


def test_nights_on_what_changed_give_what_one_look_at_everything_gives(nights):
    nights.until(6)
    # Out of order on purpose: the ninth day arrives before the seventh and eighth.
    for day in (8, 6, 7, 9):
        now = START + max(day + 1, 9) * DAY + timedelta(hours=day)
        nights.put(START + day * DAY, START + (day + 1) * DAY, now)
        nights.night(now)
    assert sum(nights.store.findings(inputs.person.person_id).pairings.height for inputs in nights.people) > 10


def test_readings_that_arrive_late_are_measured_as_if_they_had_been_there(nights):
    late = (START + 2 * DAY, START + 4 * DAY)
    nights.put(START - 3 * DAY, late[0], START)
    nights.put(*late, START, tables=("fingers", "doses", "events"))
    nights.put(late[1], START + 8 * DAY, START)
    nights.night(START + 8 * DAY)
    nights.put(*late, START, tables=("readings",))
    nights.night(START + 9 * DAY)


def test_an_amount_corrected_in_the_past_moves_what_it_should(nights):
    now = nights.until(6) + DAY
    more = [pl.col(name) * 1.5 for name in ("amount", "grams")]
    nights.put(START + DAY, START + 3 * DAY, now, tables=("doses",), changed=lambda doses: doses.with_columns(more))
    nights.night(now)


def test_a_weighing_found_in_an_old_book_moves_what_it_should(nights):
    now = nights.until(6) + DAY
    for inputs in nights.people:
        who = inputs.person.person_id
        weights = pl.DataFrame([(who, date(2025, 1, 9), 31.5)], schema=WEIGHTS.schema, orient="row")
        nights.store.take_in(Batch(who, "book.csv", "book", "plain", 0, weights=weights), now)
    nights.night(now)


def test_a_changed_setting_a_changed_band_and_a_clock_set_back_are_followed(nights):
    now = nights.until(9)
    (nights.home / "gramrise.toml").write_text(
        "[estimate.levels]\nevent_sd_log = 0.5\n[estimate_path]\ntail_min = 100\n"
    )
    nights.night(now + DAY)
    (nights.home / "gramrise.toml").write_text("[detect]\nrun_in_minutes = 75\n")
    nights.night(now + 2 * DAY)
    bands = (TimeBand("day", time(6), time(20)), TimeBand("night", time(20), time(6)))
    for inputs in nights.people:
        person = nights.store.person(inputs.person.person_id)
        nights.store.save_person(replace(person, bands=person.bands.with_entry(date(2025, 1, 10), bands)))
    nights.night(now + 3 * DAY)
    nights.night(now - 4 * DAY)  # the clock was set back
    nights.put(START + 9 * DAY, START + 10 * DAY, now + 4 * DAY)
    nights.night(now + 4 * DAY)


def test_only_the_days_that_are_read_lean_the_candidates(nights):
    nights.home.mkdir(exist_ok=True)
    (nights.home / "gramrise.toml").write_text("[estimate_path.stretches]\nlatest_days = 3.3\n")
    nights.until(8)


def test_an_import_that_is_taken_back_leaves_nothing_behind(nights):
    now = nights.until(6)
    for entry in nights.store.imports()[5:7]:
        nights.store.take_back(entry["import_id"])
    nights.night(now + DAY)


def blocks_kept(store):
    with store.reading() as connection:
        return connection.exec_driver_sql("SELECT * FROM blocks ORDER BY 1, 2, 3").fetchall()


def test_two_looks_at_the_same_night_leave_the_same_bytes(nights):
    now = nights.until(5)
    before = blocks_kept(nights.store)
    assert {row[1] for row in before} >= {"lows", "screened", "measurement", "picture", "factors"}
    nights.night(now)
    assert blocks_kept(nights.store) == before
    for inputs in nights.people:
        with Store.open(nights.home.parent / "other") as other:
            other.save_person(inputs.person)
            other.take_in(told_between(inputs, START - 3 * DAY, START + 5 * DAY), now)
            whole = run_person(other, inputs.person.person_id, now)
            assert_frame_equal(whole.paths, nights.store.findings(inputs.person.person_id).paths, rel_tol=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_whatever_is_changed_night_after_night_nothing_depends_on_what_was_remembered(nights, seed):
    """Random edits: late and missing days, corrected amounts and readings, weighings, imports taken back, clocks."""
    rng = Random(seed)
    nights.put(START - 3 * DAY, START + 5 * DAY, START)
    now = START + 8 * DAY
    nights.night(now)
    for n in range(5):
        day = START + rng.randrange(9) * DAY
        edit = rng.choice(["add", "doses", "readings", "weight", "take back", "clock", "damage"])
        if edit == "add":
            nights.put(day, day + DAY, now)
        elif edit == "doses":
            more = [pl.col(name) * rng.choice([0.5, 1.5, 2.0]) for name in ("amount", "grams")]
            nights.put(
                day, day + DAY, now, tables=("doses",), changed=lambda doses, more=more: doses.with_columns(more)
            )
        elif edit == "readings":
            moved = pl.col("glucose_mg_dl") + rng.randrange(3, 30)
            how = {"tables": ("readings",), "changed": lambda frame, moved=moved: frame.with_columns(moved)}
            nights.put(day, day + DAY, now, **how)
        elif edit == "weight":
            for who in (inputs.person.person_id for inputs in nights.people):
                weighed = pl.DataFrame([(who, day.date(), rng.uniform(30, 33))], schema=WEIGHTS.schema, orient="row")
                nights.store.take_in(Batch(who, f"{n}.csv", f"book {n}", "plain", 0, weights=weighed), now)
        elif edit == "take back" and nights.store.imports():
            nights.store.take_back(rng.choice(nights.store.imports())["import_id"])
        elif edit == "damage":
            damage(nights.store, rng)
        now += timedelta(hours=rng.choice([-60, -7, 1, 24])) if edit == "clock" else timedelta(hours=20)
        nights.night(now)


def damage(store, rng):
    """One bit flipped, a block cut off, or given to the other person."""
    with store.writing() as connection:
        rows = connection.exec_driver_sql("SELECT person_id, kind, slot, content FROM blocks").fetchall()
        person_id, kind, slot, content = rng.choice(rows)
        how = rng.choice(["flip", "cut", "give away"])
        if how == "give away":
            other = next(row[0] for row in rows if row[0] != person_id)
            connection.exec_driver_sql(
                "DELETE FROM blocks WHERE (person_id, kind, slot) = (?, ?, ?)", (other, kind, slot)
            )
            change, value = "person_id", other
        elif how == "cut":
            change, value = "content", content[: rng.randrange(len(content))]
        else:
            at = rng.randrange(len(content))
            change, value = "content", content[:at] + bytes([content[at] ^ 1 << rng.randrange(8)]) + content[at + 1 :]
        where = "WHERE (person_id, kind, slot) = (?, ?, ?)"
        connection.exec_driver_sql(f"UPDATE blocks SET {change} = ? {where}", (value, person_id, kind, slot))


def test_flipped_truncated_and_swapped_blocks_change_no_finding_and_lock_nobody_out(nights):
    now = nights.until(5)
    before = blocks_kept(nights.store)
    rng = Random(7)
    told = 0
    for _ in range(12):
        for _ in range(rng.randrange(1, 4)):
            damage(nights.store, rng)
        told += bool(nights.store.verify_blocks())
        nights.night(now)
        assert blocks_kept(nights.store) == before
        assert nights.store.verify_blocks() == []
    assert told == 12
