"""Pieces or grams: a log is asked about when its responses sit at 1/4, 1/2, 2 or 4 times the person's."""

from datetime import timedelta

import polars as pl
from support.detect_cases import LATER, LOW_AT, TREATED_LOW, child, doses, readings

from gramrise.detect import detect
from gramrise.domain.findings import Inputs


def many(days: int, grams: float, source: str, first_day: int = 0) -> Inputs:
    """The same treated low day after day, logged as so many grams of one source."""
    traces, given = [], []
    for day in range(first_day, first_day + days):
        later = timedelta(days=day)
        traces.append(readings(TREATED_LOW).with_columns(pl.col("at_utc") + later))
        given.append(
            doses((LOW_AT, grams)).with_columns(pl.col("taken_at_utc") + later, pl.lit(source).alias("source"))
        )
    return Inputs(child(), readings=pl.concat(traces), doses=pl.concat(given))


def asked(*logs: Inputs) -> list[dict]:
    together = Inputs(
        child(), readings=pl.concat([one.readings for one in logs]), doses=pl.concat([one.doses for one in logs])
    )
    return [{"key": q.key, "near": q.about["near"], "answers": q.answers} for q in detect(together, LATER).questions]


def test_pieces_written_as_grams_are_asked_about():
    # A rise of 51 mg/dL at 32 kg: 6 g are usual; "2" of the other log would raise 25 mg/dL a gram.
    questions = asked(many(12, 6.0, "tablets"), many(10, 1.5, "candies", first_day=12))
    assert {"key": "candies|g|file", "near": 4.0, "answers": ("pieces", "grams")} in questions


def test_logs_that_agree_are_not_asked_about():
    assert asked(many(12, 6.0, "tablets"), many(10, 7.0, "candies", first_day=12)) == []


def test_seven_treatments_are_too_few_to_ask():
    assert asked(many(12, 6.0, "tablets"), many(7, 1.5, "candies", first_day=12)) == []


def test_a_single_log_is_compared_with_the_table_and_twice_is_within_what_people_differ_by():
    # Trials: 245 mg/dL x kg per g; 51 x 32 / 245 = 6.7 g would sit on it.
    assert asked(many(12, 3.3, "tablets")) == []
    assert [q["near"] for q in asked(many(12, 1.7, "tablets"))] == [4.0]
    assert [q["answers"][0] for q in asked(many(12, 26.6, "tablets"))] == ["grams"]
