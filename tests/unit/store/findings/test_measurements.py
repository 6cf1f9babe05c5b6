"""What a night leaves for the next one, and what of the inputs the next one asks for."""

from datetime import timedelta

import alembic.command
import numpy as np
import polars as pl
import pytest
from alembic.config import Config
from gramrise.domain.kept import FROM_THE_FIRST, KeptTreatment, ToKeep, picture_of
from support.store_logs import NIGHT, NOW, batch, child, dose, readings

from gramrise.domain.findings import Findings
from gramrise.domain.frames import EVENTS, PATHS, SCREENED
from gramrise.store import Store, database
from gramrise.store.findings.saved_findings import GoingOn

DAY_US = 86_400_000_000


def treatment(day, numbers=b"n"):
    line = np.array([80.0, 81.0, 82.0])
    return KeptTreatment(day * DAY_US, b"k%d" % day, numbers, picture_of(0, line, line, line))


def save(store, *treatments, from_us=FROM_THE_FIRST, before=None, at=NOW):
    going_on = GoingOn(SCREENED.empty(), "settings", ToKeep(from_us, treatments), before)
    assert store.save_findings("mia", Findings(at), going_on=going_on)


def before(store):
    return store.inputs_to_find_from("mia")[2]


def test_the_next_night_finds_what_the_last_one_left(store):
    save(store, treatment(1), treatment(2))
    assert before(store).kept.treatments == {DAY_US: (b"k1", b"n"), 2 * DAY_US: (b"k2", b"n")}
    assert store.findings("mia").paths["first_dose_utc"].n_unique() == 2


def test_only_what_no_longer_stands_gives_way(store):
    save(store, treatment(1), treatment(2), treatment(3))
    save(store, treatment(4, b"new"), from_us=DAY_US + 1, before=before(store))
    assert before(store).kept.treatments == {DAY_US: (b"k1", b"n"), 4 * DAY_US: (b"k4", b"new")}


def test_what_is_kept_is_good_up_to_the_first_change_since(store):
    save(store, treatment(1))
    assert before(store).kept.until_utc == NOW
    store.take_in(batch(readings=readings([90, 91])), NOW)
    assert before(store).kept.until_utc == NIGHT
    assert before(store).basis == "settings"


def test_frames_that_stay_the_same_come_back_without_being_written_again(store):
    save(store, treatment(1))
    save(store, from_us=DAY_US + 1, before=before(store), at=NOW + timedelta(days=1))
    told = before(store)
    assert (told.as_of_utc, told.screened.height, told.basis) == (NOW + timedelta(days=1), 0, "settings")
    assert store.findings("mia").treatments.height == 0


def test_findings_saved_without_another_night_in_mind_leave_nothing_behind(store):
    save(store, treatment(1))
    row = ("mia", NIGHT, NIGHT, 80.0, 3.0, 95.0)
    drawn = pl.DataFrame([row], schema=PATHS.schema, orient="row")
    store.save_findings("mia", Findings(NOW, paths=drawn))
    assert before(store) is None
    assert store.findings("mia").paths.equals(drawn)
    with store.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM treatments_kept").scalar_one() == 0


def test_a_night_asks_for_late_readings_all_doses_and_whether_food_was_ever_logged(store):
    late = NIGHT + timedelta(days=30)
    rows = [
        ("mia", NIGHT, None, "food", 20.0, ""),
        ("mia", NIGHT + timedelta(days=1), None, "food", 20.0, ""),
        ("mia", NIGHT, late + timedelta(hours=1), "illness", None, ""),
        ("mia", late, None, "insulin", 2.0, ""),
    ]
    events = pl.DataFrame(rows, schema=EVENTS.schema, orient="row")
    store.take_in(batch("a", readings=readings([90] * 5), doses=dose(), events=events), NOW)
    store.take_in(batch("b", readings=readings([95] * 4, start=late)), NOW)
    save(store)
    inputs, _, _ = store.inputs_to_find_from("mia", lambda _before: late)
    assert inputs.readings["glucose_mg_dl"].to_list() == [95.0] * 4
    assert inputs.doses.height == 1
    assert inputs.events.select("kind", "at_utc").rows() == [("food", NIGHT), ("illness", NIGHT), ("insulin", late)]
    whole, _, _ = store.inputs_to_find_from("mia", lambda _before: None)
    assert (whole.readings.height, whole.events.height) == (9, 4)


def test_two_programs_that_go_on_from_the_same_night_do_not_mix_what_they_leave(store):
    save(store, treatment(1))
    told = before(store)
    save(store, treatment(2), from_us=DAY_US + 1, before=told, at=NOW + timedelta(hours=1))
    late = GoingOn(SCREENED.empty(), "settings", ToKeep(DAY_US + 1, (treatment(3),)), told)
    assert not store.save_findings("mia", Findings(NOW + timedelta(hours=2)), going_on=late)
    assert set(before(store).kept.treatments) == {DAY_US, 2 * DAY_US}


def test_a_forgotten_child_leaves_no_kept_numbers(store):
    save(store, treatment(1))
    store.forget("mia")
    with store.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM treatments_kept").scalar_one() == 0


@pytest.mark.parametrize("step", ["0002", "0003"])
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
        if step == "0003":
            connection.exec_driver_sql("INSERT INTO traces VALUES ('mia', 7, x'00')")
    engine.dispose()
    with Store.open(home) as store:
        assert store.inputs("mia").readings.equals(held)
        assert store.inputs_to_find_from("mia")[2] is None
