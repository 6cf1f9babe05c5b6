"""The diarist who logs sugar for lows (T1D-UOM 2320, Alsuhaymi 2025): the list reads as the log and its README say."""

from datetime import UTC, datetime

import polars as pl
import pytest
from support.detect_traces import needs_traces, trace_inputs

from gramrise.detect import detect

pytestmark = [pytest.mark.outside, needs_traces]


@pytest.fixture(scope="module")
def diarist():
    inputs = trace_inputs("2320")
    return inputs, detect(inputs, datetime(2026, 1, 1, tzinfo=UTC))


def test_all_32_logged_sugar_entries_are_there(diarist):
    # README: 32 sugar entries, sugar sweets, mostly 4.7 g each.
    inputs, found = diarist
    assert inputs.doses.height == 32
    assert found.treatments["doses_n"].sum() == 32


def test_sweets_alone_started_at_75_or_below_are_six_and_rise_46(diarist):
    # README: the six sweets-only doses (4.7-9.4 g) started at 75 mg/dL or below rise 46 mg/dL (median of the hour).
    _, found = diarist
    alone = found.screened.filter(
        ~pl.col("reasons").list.contains("mixed_with_food") & (pl.col("start_seen_mg_dl") <= 75)
    )
    assert alone.height == 6
    assert alone["grams"].is_between(4.7, 9.4).all()
    assert alone["rise_seen_mg_dl"].median() == pytest.approx(46, abs=2)


def test_entries_with_other_food_in_the_row_are_set_aside_and_the_others_used(diarist):
    # Hard exclusion windows would leave 3 of 36; widening keeps every entry of sweets alone.
    _, found = diarist
    mixed = found.screened["reasons"].list.contains("mixed_with_food")
    assert (found.screened["verdict"] == "set_aside").to_list() == mixed.to_list()
    assert (~mixed).sum() == 12


def test_a_day_of_the_diary_reads_as_it_was(diarist):
    # 1 December 2023: sweets at 14:10 (79 and falling fast, low from 14:16) and at 20:15 (54, low since 19:51).
    _, found = diarist
    day = found.lows.filter(pl.col("start_utc").dt.date() == datetime(2023, 12, 1, tzinfo=UTC).date())
    read = day.select(
        pl.col("start_utc").dt.strftime("%H:%M"), "outcome", "grams", "minutes_to_glucose", "minutes_to_70"
    )
    assert read.rows() == [("14:16", "treated", 4.7, -6.0, 21.0), ("19:51", "treated", 7.0, 24.0, 11.0)]


def test_glucose_before_a_low_is_commoner_than_after_its_end(diarist):
    _, found = diarist
    kinds = dict(found.treatments["class"].value_counts().iter_rows())
    assert kinds["for_low"] + kinds["given_early"] >= 0.8 * found.treatments.height


def test_no_insulin_row_is_not_no_insulin(diarist):
    # README: the bolus file covers 30 of 84 days; outside them insulin on board is unknown, not nought.
    _, found = diarist
    board = found.screened["insulin_on_board_units"]
    assert board.null_count() > 0
    assert (board.drop_nulls() > 0).any()
