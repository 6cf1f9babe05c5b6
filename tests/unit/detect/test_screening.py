"""Every reason bites where it should, with the effect of the closed table."""

from datetime import date, timedelta

import polars as pl
import pytest
from support.detect_cases import LOW_AT, TREATED_LOW, at, child, doses, events, fingers, found, readings

from gramrise.domain.person import Dated
from gramrise.domain.words import Delivery


def screened(
    trace=TREATED_LOW, given=((LOW_AT, 4.0),), remarks=(), step=5, person=None, **frames: pl.DataFrame
) -> dict:
    found_there = found(readings(trace, step=step), person=person, doses=doses(*given, remarks=remarks), **frames)
    return found_there.screened.to_dicts()[0]


def test_a_plain_treatment_is_used_and_has_no_reason():
    row = screened()
    assert (row["verdict"], row["reasons"]) == ("used", [])
    assert (row["window_from_utc"], row["window_to_utc"]) == (at(0), at(150))


def test_start_slope_and_rise_are_read_off_the_trace():
    row = screened()
    assert row["start_seen_mg_dl"] == 64
    assert row["slope_mg_dl_per_min"] == pytest.approx(-56 / 60)
    assert row["rise_seen_mg_dl"] == 115 - 64


def test_a_15_minute_sensor_has_a_slope_from_three_readings():
    row = screened([150, 140, 120, 100, 80, 62, 90, 110, 110, 110, 110, 110], step=15, given=((75, 4.0),))
    assert row["slope_mg_dl_per_min"] == pytest.approx(-19.4 / 15)  # (1.5 x (62 - 120) + 0.5 x (80 - 100)) / 5, a step
    assert row["verdict"] == "used"


@pytest.mark.parametrize(
    ("code", "verdict", "frames"),
    [
        ("insulin_near", "used", {"events": events((-60, "insulin", 3))}),
        ("food_before", "used", {"events": events((-60, "food", 30))}),
        ("activity_near", "used", {"events": events((0, "activity", None))}),
        ("illness_near", "used", {"events": events((-600, "illness", None))}),
        ("mixed_with_food", "set_aside", {"events": events((65, "food", 20))}),
        ("vomited", "set_aside", {"events": events((100, "vomited", None))}),
        ("glucagon_near", "set_aside", {"events": events((0, "glucagon", None))}),
        ("sensor_new", "set_aside", {"events": events((-300, "sensor_start", None))}),
        ("sensor_doubt", "set_aside", {"fingers": fingers((62, 130))}),
    ],
)
def test_what_is_logged_beside_a_treatment_is_a_reason(code, verdict, frames):
    row = screened(**frames)
    assert row["reasons"] == [code]
    assert row["verdict"] == verdict


@pytest.mark.parametrize("remark", ["mixed_with_food", "vomited", "maybe_twice", "untimed"])
def test_what_the_log_says_of_a_dose_sets_its_treatment_aside(remark):
    row = screened(remarks=[remark])
    assert (row["verdict"], row["reasons"]) == ("set_aside", [remark])


def test_a_time_marked_doubtful_widens():
    row = screened(remarks=["time_doubtful"])
    assert (row["verdict"], row["reasons"]) == ("used", ["time_doubtful"])


def test_food_50_minutes_later_cuts_the_window_and_is_still_used():
    row = screened(events=events((110, "food", 30)))
    assert (row["verdict"], row["reasons"], row["window_to_utc"]) == ("used", ["cut_short"], at(110))


def test_food_20_minutes_later_leaves_too_little():
    row = screened(events=events((80, "food", 30)))
    assert (row["verdict"], row["reasons"]) == ("set_aside", ["cut_short"])


def test_coffee_with_milk_is_no_food():
    assert screened(events=events((80, "food", 1.7)))["reasons"] == []


def test_a_gap_late_in_the_response_cuts_and_an_early_one_sets_aside():
    late = [*TREATED_LOW[:22], *[None] * 8, *TREATED_LOW[30:]]
    assert screened(late)["verdict"] == "used"
    assert screened(late)["window_to_utc"] == at(110)
    early = [*TREATED_LOW[:15], *[None] * 8, *TREATED_LOW[23:]]
    assert (screened(early)["verdict"], screened(early)["reasons"]) == ("set_aside", ["gap_in_readings"])


def test_without_readings_before_it_there_is_no_run_in():
    row = screened([*[None] * 11, *TREATED_LOW[11:]])
    assert (row["verdict"], row["reasons"]) == ("set_aside", ["no_run_in"])


def test_the_run_in_begins_when_earlier_glucose_has_settled():
    row = found(readings(TREATED_LOW), doses=doses((0, 4), (LOW_AT, 4))).screened.to_dicts()[1]
    assert row["window_from_utc"] == at(45)


def test_the_response_ends_where_the_next_treatment_begins():
    row = found(readings(TREATED_LOW), doses=doses((LOW_AT, 4), (130, 4))).screened.to_dicts()[0]
    assert row["window_to_utc"] == at(130)


def test_below_range_all_the_time_is_set_aside_and_part_of_the_time_is_not():
    falling = [120 - 7 * n for n in range(12)]
    assert "below_sensor_range" in screened([*falling, *[38] * 30])["reasons"]
    assert "below_sensor_range" not in screened([*falling, *[38] * 5, *[60] * 25])["reasons"]


def test_an_unknown_amount_is_set_aside():
    assert screened(given=((LOW_AT, None),))["reasons"] == ["amount_unknown"]


def test_two_doses_are_noted_and_used():
    row = screened(given=((60, 4.0), (75, 4.0)))
    assert (row["verdict"], row["reasons"]) == ("used", ["many_doses"])
    assert row["window_to_utc"] == at(165)


def test_a_start_at_the_persons_own_target_is_noted():
    plain = [130 - n for n in range(40)]
    assert "started_above_target" in screened(plain, given=((60, 4.0),))["reasons"]
    high = child(target_mg_dl=Dated(((date(2020, 1, 1), 130.0),)))
    assert "started_above_target" not in screened(plain, given=((60, 4.0),), person=high)["reasons"]


def test_a_fast_fall_leaves_the_sensors_lag_unsure():
    fast = [*(200 - 11 * n for n in range(13)), 66, 70, *[100] * 30]
    assert "lag_unsure" in screened(fast)["reasons"]


def test_a_rise_that_began_before_the_written_time_makes_the_time_doubtful():
    late = screened(given=((85, 4.0),))
    assert "time_doubtful" in late["reasons"]


def test_a_change_of_insulin_delivery_widens_for_two_weeks():
    changed = child(
        delivery=Dated(((date(2020, 1, 1), Delivery.INJECTIONS), (at(0).date() - timedelta(days=5), Delivery.PUMP)))
    )
    assert screened(person=changed)["reasons"] == ["delivery_changed"]
    first_entry_only = child(delivery=Dated(((at(0).date(), Delivery.PUMP),)))
    assert screened(person=first_entry_only)["reasons"] == []


def test_without_any_weight_a_treatment_cannot_be_compared():
    assert screened(person=child(weights_kg=Dated()))["reasons"] == ["weight_unknown"]


def test_a_low_on_one_reading_is_noted():
    row = screened([120, 105, 90, 80, 65, 90, 110, 110, 110, 110, 110], step=15, given=((61, 4.0),))
    assert (row["verdict"], row["reasons"]) == ("used", ["one_reading"])


def test_insulin_on_board_follows_the_published_curve_and_is_unknown_where_none_is_logged():
    assert screened()["insulin_on_board_units"] is None
    # Hovorka 2004, tmaxI 55 min: (1 + 60/55) exp(-60/55) = 0.7024 is left after an hour.
    row = screened(events=events((0, "insulin", 2.0)))
    assert row["insulin_on_board_units"] == pytest.approx(2 * 0.7024, abs=1e-3)
    old = screened(events=events((LOW_AT - 20 * 60, "insulin", 2.0)))
    assert old["insulin_on_board_units"] == pytest.approx(0, abs=1e-6)
