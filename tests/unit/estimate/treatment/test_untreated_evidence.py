"""Untreated falls lean the candidates towards the path that they follow."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl
import pytest
from support.path_people import (
    SETTINGS,
    START,
    doses_frame,
    screened_frame,
    screened_row,
)
from support.untreated_falls import HOURS_APART, falls

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import LOWS
from gramrise.domain.words import Outcome
from gramrise.estimate import estimate, estimate_settings
from gramrise.estimate.treatment.measurement import MeasurementSetup
from gramrise.estimate.treatment.untreated_evidence import (
    latest_stretches,
    stretches_from,
    untreated_log_weights,
    untreated_probability,
)

GAUGE = MeasurementSetup.of(SETTINGS)
PATHS = list(dict.fromkeys(candidate.path for candidate in GAUGE.model.candidates))
STEADY, QUICK, SUDDEN = range(3)


def by_candidate_of(inputs, now):
    return untreated_log_weights(latest_stretches(inputs, LOWS.empty(), now, SETTINGS), GAUGE)


def log_weights(inputs, now):
    """Log weight of each path's candidates, which all lean alike."""
    by_candidate = by_candidate_of(inputs, now)
    each = {path: set() for path in PATHS}
    for candidate, weight in zip(GAUGE.model.candidates, by_candidate, strict=True):
        each[candidate.path].add(weight)
    assert all(len(weights) == 1 for weights in each.values())
    return [weights.pop() for weights in each.values()]


@pytest.mark.parametrize("true", [STEADY, QUICK, SUDDEN])
def test_untreated_falls_speak_for_the_path_that_they_follow(true):
    weights = log_weights(*falls(PATHS[true]))
    assert int(np.argmax(weights)) == true
    assert weights[true] - min(weights) > 1.0


def test_readings_older_than_what_is_asked_for_change_nothing():
    inputs, now = falls(PATHS[QUICK], days=30)
    near = pl.col("at_utc") >= stretches_from(now, SETTINGS)
    part = replace(inputs, readings=inputs.readings.filter(near))
    assert 0 < part.readings.height < inputs.readings.height
    assert by_candidate_of(part, now).tolist() == by_candidate_of(inputs, now).tolist()


def test_without_untreated_falls_nothing_leans():
    inputs, now = falls(PATHS[QUICK], days=2)
    always_eating = doses_frame([(START + timedelta(hours=h), 4.0) for h in range(0, 48, 2)])
    assert not by_candidate_of(Inputs(inputs.person), now).any()
    assert not by_candidate_of(replace(inputs, doses=always_eating), now).any()


def low(hour, outcome, treated=0.0, dip=0.0):
    begin = START + timedelta(hours=hour)
    told = {"start_utc": begin, "end_utc": begin + timedelta(minutes=30), "outcome": outcome.value}
    told |= {"person_id": "mia", "probability_treated": treated, "probability_dip": dip}
    return LOWS.check(pl.DataFrame([told | {k: None for k in LOWS.schema if k not in told}], schema=LOWS.schema))


def stretch(hour):
    begin = START + timedelta(hours=hour)
    return pl.DataFrame({"first_dose_utc": [begin], "window_to_utc": [begin + timedelta(hours=1.5)]}).cast(
        pl.Datetime("us", "UTC")
    )


@pytest.mark.parametrize(
    ("found", "counts"),
    [
        (low(5, Outcome.NOTHING_LOGGED, treated=0.7), 0.3),
        (low(5, Outcome.TREATED_UNTIMED, treated=1.0), 0.0),
        (low(5, Outcome.SENSOR_DOUBT, dip=0.9), 0.1),
        (low(5, Outcome.EASED), 1.0),
        (low(5, Outcome.TREATED, treated=1.0), 1.0),  # the stretch ended before its glucose
        (low(20, Outcome.NOTHING_LOGGED, treated=0.7), 1.0),  # another hour
    ],
)
def test_a_stretch_counts_by_how_likely_nobody_treated_it(found, counts):
    assert untreated_probability(stretch(4.5), found)[0] == pytest.approx(counts)


def test_a_low_that_has_not_begun_yet_changes_nothing_and_one_that_has_does():
    inputs, _ = falls(PATHS[QUICK])
    given = [START + timedelta(hours=HOURS_APART * n) for n in range(1, 20)]
    screened = screened_frame([screened_row(at, (0,), (10.0,)) for at in given])
    as_of = START + timedelta(hours=HOURS_APART * 20 + 4)

    def numbers(lows):
        return estimate(inputs, screened, lows, as_of, estimate_settings()).factors["factor_mg_dl_per_g"].to_list()

    long_low = LOWS.check(
        low(0, Outcome.NOTHING_LOGGED, treated=1.0).with_columns(end_utc=pl.lit(None, pl.Datetime("us", "UTC")))
    )
    later = long_low.with_columns(start_utc=pl.lit(as_of + timedelta(minutes=1)).cast(pl.Datetime("us", "UTC")))
    assert numbers(later) == numbers(LOWS.empty())
    assert numbers(long_low) != numbers(LOWS.empty())
