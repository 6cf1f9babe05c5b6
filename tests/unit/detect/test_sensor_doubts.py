"""Where the sensor, not the level, was low: pressure dips, finger-sticks that disagree, two traces in one."""

from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
from support.detect_cases import LOW_AT, TREATED_LOW, child, doses, fingers, found, readings

from gramrise.detect.dips import DipShape, told_by_shape
from gramrise.detect.settings import shipped
from gramrise.domain.person import Dated


def steady_night(level: float = 92) -> np.ndarray:
    """Four hours of a level that hardly moves, a reading every 5 minutes from 02:00."""
    return level + 2 * np.sin(np.arange(48) / 7)


def lain_upon(level: np.ndarray, from_minute: float = 90, minutes: float = 45, depth: float = 35) -> np.ndarray:
    """The published shape: a rectangle of pressure through a first-order filter, sharp down and slower back."""
    since = np.arange(len(level)) * 5 - from_minute
    pressed = depth * (1 - np.exp(-np.clip(since, 0, minutes) / 4))
    return level - np.where(since < 0, 0, pressed * np.exp(-np.clip(since - minutes, 0, None) / 12))


def test_a_sudden_drop_and_return_at_night_is_called_a_dip():
    low = found(readings(lain_upon(steady_night()).round())).lows.to_dicts()[0]
    assert low["probability_dip"] > 0.8
    assert low["outcome"] == "sensor_doubt"
    assert "looks_like_dip" in low["evidence"]
    assert low["probability_treated"] < 0.1


def test_the_same_drop_at_noon_is_much_less_likely_a_dip():
    # Nine dips of ten come at night: (0.9 / 9 h) / (0.1 / 15 h) = 15 times the odds at the least.
    trace = readings(lain_upon(steady_night()).round())
    noon = trace.with_columns(pl.col("at_utc") + timedelta(hours=10))
    night, day = (found(one).lows.item(0, "probability_dip") for one in (trace, noon))
    assert night / (1 - night) >= 15 * day / (1 - day)


def test_a_journey_later_on_changes_nothing_that_was_found_at_home():
    """The hour was read on the zone of today: nights at home became days, and treatments of October counted or not."""
    trace = readings(lain_upon(steady_night()).round())
    stayed, day = child(), trace["at_utc"][0].date()
    home = stayed.zone_now()
    away = Dated(((day - timedelta(days=300), home), (day + timedelta(days=9), ZoneInfo("Asia/Tokyo"))))
    there = Dated(((day - timedelta(days=300), ZoneInfo("Asia/Tokyo")),))
    dips = [found(trace, person=replace(stayed, zone=zone)).lows.item(0, "probability_dip")
            for zone in (stayed.zone, away, there)]  # fmt: skip
    assert dips[0] == dips[1]
    assert dips[0] > dips[2]


def test_a_slow_fall_and_a_slow_return_are_a_low():
    slow = [*np.linspace(110, 60, 24), 60, 60, *np.linspace(60, 95, 22)]
    low = found(readings(np.round(slow))).lows.to_dicts()[0]
    assert low["probability_dip"] < 0.02
    assert low["outcome"] == "nothing_logged"


def test_a_treated_low_is_no_dip():
    assert found(readings(TREATED_LOW), doses=doses((LOW_AT, 4))).lows.item(0, "probability_dip") < 0.05


def test_glucose_given_for_a_likely_dip_is_logged_as_given_and_never_taught():
    everything = found(readings(lain_upon(steady_night()).round()), doses=doses((100, 5.0)))
    assert everything.lows.select("outcome", "probability_treated").rows() == [("treated", 1.0)]
    assert "looks_like_dip" in everything.lows.item(0, "evidence").to_list()
    row = everything.screened.to_dicts()[0]
    assert row["verdict"] == "set_aside"
    assert "sensor_doubt" in row["reasons"]


def test_what_the_shape_tells_is_held_within_what_was_fitted():
    wild = DipShape(500, 500, 500, 500, 500, 5000, 50, 50)
    told = told_by_shape(wild, True, shipped())
    assert told.tolist() == [1, 1, 5, 5, 5, 6, 6, 1.2, 1.44, 4, 4, 45.2]


def test_a_finger_stick_far_from_the_sensor_makes_the_low_doubtful():
    trace = readings(TREATED_LOW)
    low = found(trace, fingers=fingers((62, 130))).lows.to_dicts()[0]
    assert (low["outcome"], "finger_disagreed" in low["evidence"]) == ("sensor_doubt", True)


def test_a_finger_stick_that_saw_the_low_is_evidence_for_it():
    low = found(readings(TREATED_LOW), fingers=fingers((62, 58))).lows.to_dicts()[0]
    assert "finger_agreed" in low["evidence"]
    assert low["outcome"] == "nothing_logged"


def test_a_finger_stick_is_compared_only_with_a_reading_near_it():
    holes = [None if 11 <= n <= 14 else value for n, value in enumerate(TREATED_LOW)]
    low = found(readings([*holes[:11], None, None, None, None, 60, 60, 60, *[100] * 10]), fingers=fingers((62, 130)))
    assert "finger_disagreed" not in [code for codes in low.lows["evidence"].to_list() for code in codes]


def test_two_sensors_in_one_trace_are_seen_by_the_saw_they_make():
    one, other = readings([64.0] * 40), readings([110.0] * 40, start=2)
    low = found(one.vstack(other)).lows
    assert low.height == 0  # neither stands 15 minutes
    lower = readings([45.0] * 40, start=2)
    mixed = found(one.vstack(lower)).lows.to_dicts()[0]
    assert "two_traces" in mixed["evidence"]
    assert mixed["outcome"] == "sensor_doubt"


def test_a_treatment_amid_two_traces_is_set_aside():
    one, other = readings(TREATED_LOW), readings([value + 45 for value in TREATED_LOW], start=2)
    row = found(one.vstack(other), doses=doses((LOW_AT, 4))).screened.to_dicts()[0]
    assert "sensor_doubt" in row["reasons"]


def test_on_demand_readings_between_15_minute_ones_are_not_two_traces():
    level = [150 - 4 * n for n in range(24)]
    scans = readings([level[n] - 2 for n in range(0, 24, 2)], step=30, start=6)
    everything = found(readings(level, step=15).vstack(scans), doses=doses((200, 4)))
    assert "sensor_doubt" not in everything.screened.item(0, "reasons").to_list()


def test_the_zone_of_the_person_says_what_is_night():
    trace = readings(lain_upon(steady_night()).round())
    tokyo = child(zone=Dated(((date(2020, 1, 1), ZoneInfo("Asia/Tokyo")),)))
    here = found(trace).lows.item(0, "probability_dip")
    there = found(trace, person=tokyo).lows.item(0, "probability_dip")
    assert there < here


def test_a_steep_fall_after_a_meal_is_no_dip_even_when_the_level_comes_back_as_high():
    # 15-minute steps as one real trace shows them: 170 down to 56 within 45 minutes, back at 124 an hour later.
    steep = [168, 168, 139, 100, 62, 56, 70, 85, 100, 112, 124, 124]
    assert found(readings(steep, step=15)).lows.item(0, "probability_dip") < 0.10
