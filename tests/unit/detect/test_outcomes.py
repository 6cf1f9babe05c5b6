"""What became of a low: logged facts first, then the sensor, then the recovery."""

from datetime import date

import pytest
from support.detect_cases import LOW_AT, TREATED_LOW, at, child, doses, events, found, readings

from gramrise.domain.person import Dated

# Falling slowly to 62 with nothing logged, and slowly back.
EASING_LOW = [*(100 - 1.5 * n for n in range(26)), *[62.0] * 3, *(62 + 0.9 * n for n in range(40))]


def low(trace=TREATED_LOW, person=None, **frames) -> dict:
    return found(readings([round(v) for v in trace]), person=person, **frames).lows.to_dicts()[0]


def test_food_from_20_minutes_before_covers_a_low_and_21_minutes_before_does_not():
    # The low begins at minute 55.
    assert low(events=events((35, "food", 15)))["outcome"] == "food_covered"
    assert low(events=events((34, "food", 15)))["outcome"] == "nothing_logged"
    assert low(events=events((70, "food", None)))["outcome"] == "food_covered"


def test_glucagon_is_told_as_what_was_logged():
    row = low(events=events((60, "glucagon", None)))
    assert (row["outcome"], row["evidence"]) == ("food_covered", ["glucagon_logged"])


def test_glucose_without_a_time_is_treated_untimed():
    row = low(doses=doses((LOW_AT, 4), remarks=["untimed"]))
    assert (row["outcome"], row["evidence"][0]) == ("treated_untimed", "glucose_untimed")


def test_glucose_beside_food_is_treated_and_both_are_told():
    row = low(doses=doses((LOW_AT, 4)), events=events((65, "food", 15)))
    assert (row["outcome"], row["evidence"][:2]) == ("treated", ["glucose_logged", "food_logged"])


def test_a_fast_recovery_with_nothing_logged_was_likely_treated_and_a_slow_one_likely_not():
    fast, slow = low(), low(EASING_LOW)
    assert fast["outcome"] == slow["outcome"] == "nothing_logged"
    assert fast["probability_treated"] > 0.75
    assert slow["probability_treated"] < 0.25
    assert "rose_like_treated" in fast["evidence"]
    assert "rose_like_untreated" in slow["evidence"]


def test_where_glucose_was_logged_lately_a_low_without_a_log_is_less_likely_treated():
    kept = found(readings([round(v) for v in TREATED_LOW]), doses=doses((-5000, 4)))
    assert kept.lows.item(0, "probability_treated") < low()["probability_treated"]


def test_a_low_of_a_complete_log_with_nothing_in_it_eased():
    complete = child(log_complete_from=Dated(((date(2026, 1, 1), True),)))
    row = low(person=complete)
    assert (row["outcome"], row["probability_treated"]) == ("eased", 0.0)
    assert row["evidence"] == ["nothing_in_log", "log_complete"]


def test_a_declaration_taken_back_no_longer_makes_a_low_ease():
    back = child(log_complete_from=Dated(((date(2026, 1, 1), True), (date(2026, 2, 1), False))))
    assert low(person=back)["outcome"] == "nothing_logged"


def test_a_treated_low_that_still_goes_on_is_open_with_glucose_in_the_log():
    trace = readings([80, 75, 68, 66, 64, 63])
    row = found(trace, now=at(27), doses=doses((20, 4))).lows.to_dicts()[0]
    assert (row["outcome"], row["probability_treated"], row["minutes_to_70"]) == ("open", 1.0, None)


@pytest.mark.parametrize(("minute", "second"), [(69, False), (70, True)])
def test_a_second_amount_comes_at_least_ten_minutes_after_the_first(minute, second):
    assert low(doses=doses((60, 4), (minute, 4)))["second_amount"] is second


def test_without_glucose_the_way_back_counts_from_the_lowest_value():
    row = low()
    assert row["minutes_to_glucose"] is None
    assert row["minutes_to_70"] == 75 - 65  # lowest at minute 65, back at 72 at minute 75


def test_the_first_hours_of_a_sensor_are_told():
    assert "sensor_new" in low(events=events((-100, "sensor_start", None)))["evidence"]
