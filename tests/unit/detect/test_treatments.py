"""What a treatment is, what it was for, and to which low its glucose counts."""

from zoneinfo import ZoneInfo

import polars as pl
import pytest
from support.detect_cases import LOW_AT, TREATED_LOW, at, child, doses, found, readings

from gramrise.domain.person import Dated


def kinds(*given: tuple[float, float | None], trace: list[float] = TREATED_LOW) -> list[str]:
    return found(readings(trace), doses=doses(*given)).treatments["class"].to_list()


def test_doses_59_minutes_apart_are_one_treatment_and_60_minutes_apart_are_two():
    assert found(readings(TREATED_LOW), doses=doses((60, 4), (119, 4))).treatments["doses_n"].to_list() == [2]
    assert found(readings(TREATED_LOW), doses=doses((60, 4), (120, 4))).treatments["doses_n"].to_list() == [1, 1]


def test_a_chain_may_run_longer_than_an_hour():
    treatments = found(readings(TREATED_LOW), doses=doses((60, 4), (100, 3), (140, 2))).treatments
    assert treatments.select("doses_n", "grams", "last_dose_utc").rows() == [(3, 9.0, at(140))]


@pytest.mark.parametrize(
    ("minute", "kind"), [(24, "given_early"), (25, "for_low"), (62, "for_low"), (74, "for_low"), (75, "other")]
)
def test_glucose_is_for_a_low_from_30_minutes_before_its_start_to_its_end(minute, kind):
    # The low runs from minute 55 to 75 (69, 64, 63, 66, then 72 and on)
    assert kinds((minute, 4)) == [kind]


def test_glucose_at_75_and_falling_with_no_low_after_is_given_early():
    trace = [110, 105, 100, 95, 90, 85, 80, 75, 76, 78, 82, 88, 94, 98, 100, 100]
    assert kinds((37, 5), trace=trace) == ["given_early"]


def test_glucose_at_a_steady_level_is_neither():
    assert kinds((60, 5), trace=[100] * 30) == ["other"]


def test_glucose_without_any_trace_is_other_and_still_counted():
    everything = found(readings([]), doses=doses((0, 4), (5, 4)))
    assert everything.treatments.select("class", "doses_n").rows() == [("other", 2)]
    assert everything.screened.select("verdict").rows() == [("set_aside",)]


def test_a_low_knows_the_glucose_given_for_it():
    low = found(readings(TREATED_LOW), doses=doses((50, 4), (72, 3), (110, 5))).lows.to_dicts()[0]
    assert (low["grams"], low["first_dose_utc"]) == (7.0, at(50))
    assert (low["minutes_to_glucose"], low["minutes_to_70"]) == (-5, 25)
    assert (low["second_amount"], low["outcome"], low["probability_treated"]) == (True, "treated", 1.0)


def test_two_pieces_written_on_two_rows_of_one_minute_are_no_second_amount():
    low = found(readings(TREATED_LOW), doses=doses((62, 4), (62, 4))).lows.to_dicts()[0]
    assert (low["grams"], low["second_amount"]) == (8.0, False)


def test_grams_are_unknown_when_one_amount_is():
    everything = found(readings(TREATED_LOW), doses=doses((62, 4), (64, None)))
    assert everything.treatments["grams"].to_list() == [None]
    assert everything.lows["grams"].to_list() == [None]
    assert everything.lows["outcome"].to_list() == ["treated"]


def test_the_band_is_that_of_the_first_dose_on_the_persons_own_clock():
    early = found(readings(TREATED_LOW), doses=doses((LOW_AT, 4)))
    assert early.treatments["band"].to_list() == ["overnight"]  # 03:00 in UTC
    away = child(zone=Dated(((at(0).date().replace(year=2020), ZoneInfo("Asia/Tokyo")),)))
    there = found(readings(TREATED_LOW), person=away, doses=doses((LOW_AT, 4)))
    assert there.treatments["band"].to_list() == ["daytime"]  # noon in Tokyo


def test_forms_that_differ_make_a_mixed_treatment():
    given = doses((60, 4), (70, 4)).with_columns(form=pl.Series(["tablet", "liquid"]))
    assert found(readings(TREATED_LOW), doses=given).treatments["form"].to_list() == ["mixed"]
