"""Lows by the consensus rule, each case worked by hand."""

from datetime import timedelta

import pytest
from support.detect_cases import at, found, readings

from gramrise.detect.settings import shipped
from gramrise.detect.trace import trace_of

# check values D14-D16: worked from Danne T et al. Diabetes Care 2017;40:1631 (start) and the consensus ending rule.
D14 = [82, 74, 68, 65, 66, 71, 72, 73, 80, 76]
D15 = [72, 68, 66, 71, 75]
D16 = [68, 66, 65, 71, 72, 68, 67, 66, 70, 71, 72]


def test_three_readings_below_70_make_one_low_from_02_10_to_02_25():
    low = found(readings(D14)).lows.to_dicts()
    assert len(low) == 1
    assert (low[0]["start_utc"], low[0]["end_utc"]) == (at(10), at(25))
    assert (low[0]["nadir_mg_dl"], low[0]["nadir_at_utc"]) == (65, at(15))
    assert (low[0]["level"], low[0]["one_reading"], low[0]["ended_by_gap"]) == (1, False, False)


def test_ten_minutes_below_70_are_no_low():
    assert found(readings(D15)).lows.height == 0


def test_ten_minutes_back_at_70_do_not_end_a_low():
    low = found(readings(D16)).lows.to_dicts()
    assert [(row["start_utc"], row["end_utc"]) for row in low] == [(at(0), at(40))]


def test_nine_readings_of_a_day_below_70_are_45_minutes_and_two_below_54_are_10():
    # Check value D17 (arithmetic): 9 of 288 readings are 3.13 % of the day, 2 are 0.69 %.
    day = [100] * 140 + [65, 60, 58, 53, 52, 58, 62, 66, 68] + [100] * 139
    trace = trace_of(readings(day).sort("at_utc"), shipped())
    minutes = [float(trace.stands_minutes[trace.mg_dl < limit].sum()) for limit in (70, 54)]
    assert minutes == [45, 10]
    shares = [100 * part / trace.stands_minutes.sum() for part in minutes]
    assert shares == pytest.approx([3.13, 0.69], abs=0.006)
    low = found(readings(day)).lows
    assert low.select("start_utc", "end_utc", "level").rows() == [(at(700), at(745), 1)]


def test_70_itself_is_not_below_70():
    assert found(readings([80, 70, 70, 70, 70, 80, 80, 80])).lows.height == 0


def test_a_low_is_level_2_after_15_minutes_below_54_and_not_after_10():
    assert found(readings([60, 53, 53, 60, 60, 80, 80, 80])).lows["level"].to_list() == [1]
    assert found(readings([60, 53, 53, 53, 60, 80, 80, 80])).lows["level"].to_list() == [2]


def test_one_reading_of_a_15_minute_sensor_is_a_low_and_is_marked():
    low = found(readings([90, 80, 65, 80, 90, 95], step=15)).lows
    assert low.select("one_reading", "level").rows() == [(True, 1)]


def test_an_on_demand_reading_above_70_three_minutes_later_unmakes_the_low_of_a_single_15_minute_reading():
    trace = readings([90, 80, 65, 80, 90, 95], step=15)
    assert found(trace.vstack(readings([75], start=33))).lows.height == 0


def test_a_one_minute_sensor_needs_fifteen_readings():
    assert found(readings([*[80] * 20, *[65] * 14, *[80] * 20], step=1)).lows.height == 0
    assert found(readings([*[80] * 20, *[65] * 15, *[80] * 20], step=1)).lows.height == 1


def test_a_reading_stands_for_one_usual_step_even_if_the_next_is_missed():
    # Two readings below with a missed one between: ten minutes seen below, not fifteen.
    assert found(readings([80, 80, 80, 65, None, 65, 80, 80, 80])).lows.height == 0
    assert found(readings([80, 80, 80, 65, None, 65, 65, 80, 80, 80])).lows.height == 1


def test_a_gap_ends_a_low_where_the_trace_broke_off():
    trace = [80, 80, 65, 64, 63, 62, *[None] * 6, 61, 60, 59, 80, 80, 80]
    lows = found(readings(trace)).lows
    assert lows.select("start_utc", "end_utc", "ended_by_gap").rows() == [
        (at(10), at(30), True),
        (at(60), at(75), False),
    ]
    assert lows["outcome"].to_list()[0] == "open"


def test_twenty_minutes_between_readings_are_not_yet_a_gap():
    trace = [80, 80, 65, 64, 63, None, None, None, 62, 61, 80, 80, 80]
    assert found(readings(trace)).lows.select("start_utc", "end_utc").rows() == [(at(10), at(50))]


def test_a_low_at_the_last_reading_is_open_now_and_broken_off_an_hour_later():
    trace = readings([80, 80, 65, 64, 63, 62])
    now = found(trace, now=at(30)).lows.to_dicts()[0]
    assert (now["end_utc"], now["outcome"], now["ended_by_gap"]) == (None, "open", False)
    assert now["evidence"] == ["nothing_in_log", "still_going"]
    later = found(trace, now=at(90)).lows.to_dicts()[0]
    assert (later["end_utc"], later["ended_by_gap"]) == (at(30), True)


def test_below_range_is_low_whatever_the_bound_says():
    low = found(readings([80, 39, 39, 39, 80, 80, 80])).lows.to_dicts()[0]
    assert (low["below_range"], low["nadir_mg_dl"], low["level"]) == (True, 40, 2)


def test_two_hours_below_70_are_a_prolonged_low():
    assert found(readings([80, *[65] * 24, 80, 80, 80])).lows["prolonged"].to_list() == [True]
    assert found(readings([80, *[65] * 23, 80, 80, 80])).lows["prolonged"].to_list() == [False]


def test_a_clock_that_wanders_by_seconds_does_not_unmake_a_low():
    trace = readings([80, 65, 64, 63, 80, 80, 80]).sort("at_utc")
    early = trace["at_utc"].to_list()
    early[4] -= timedelta(seconds=20)
    moved = trace.with_columns(at_utc=trace["at_utc"].scatter([4], [early[4]]))
    assert found(moved).lows.height == 1


def test_the_order_of_rows_does_not_matter():
    trace = readings(D16)
    assert found(trace.reverse()).lows.equals(found(trace).lows)


@pytest.mark.parametrize("step", [1, 5, 15])
def test_no_readings_or_one_reading_give_no_low(step):
    assert found(readings([])).lows.height == 0
    assert found(readings([65], step=step)).lows.height == 0


def test_a_high_within_two_hours_of_the_end_is_told():
    after = [80, 80, 80, *[120] * 10, 190, 120]
    low = found(readings([65, 64, 63, *after])).lows
    assert low["above_180_within_2h"].to_list() == [True]
    assert found(readings([65, 64, 63, *[120] * 40, 190])).lows["above_180_within_2h"].to_list() == [False]
