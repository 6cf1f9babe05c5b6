"""What really was the matter with each low of a virtual cohort: a dip, glucose logged, glucose not logged, or none."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta

import numpy as np
import polars as pl
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from virtual.cohort import Cohort, CohortSpec

from gramrise.detect import detect

MINUTE_US = 60_000_000
DIP, LOGGED, UNLOGGED, NONE, MIXED = "sensor artefact", "glucose, logged", "glucose, not logged", "no glucose", "mixed"
TRUTHS = (DIP, LOGGED, UNLOGGED, NONE)
# A dip's slow return outlasts the pressure by about this (time constant 12 minutes).
RETURN_MINUTES = 15
# The sensor lags the blood by at most this, so the blood is looked at from so long before.
LAG_MINUTES = 20


@dataclass(frozen=True, slots=True)
class Judged:
    """One low: what it was, and what was found."""

    truth: str
    outcome: str
    probability_treated: float
    probability_dip: float
    called_dip: bool


def judged_lows(spec: CohortSpec, made: Cohort) -> list[Judged]:
    """Every low found in a cohort's readings, beside its truth. Lows still open are left out."""
    found = []
    for inputs in made.inputs:
        person = inputs.person
        now = datetime.combine(spec.start, time(), UTC) + timedelta(days=spec.days + 30)
        lows = detect(inputs, now).lows.filter(~pl.col("ended_by_gap"))
        own = pl.col("person_id") == person.person_id
        taken = made.truth_doses.filter(own)["taken_at_utc"].cast(pl.Int64).to_numpy()
        dips = made.truth_dips.filter(own)
        begin = datetime.combine(spec.start, time(), person.zone_now())
        blood = made.true_levels[person.person_id]
        for row in lows.iter_rows(named=True):
            truth = _truth(row, np.sort(taken), dips, blood, begin)
            stated = (row["probability_treated"], row["probability_dip"], "looks_like_dip" in row["evidence"])
            found.append(Judged(truth, row["outcome"], *stated))
    return found


def _truth(row: dict, taken_us: np.ndarray, dips: pl.DataFrame, blood: np.ndarray, begin: datetime) -> str:
    """A dip when most of the low lies in one and the blood was never below 70; mixed when a dip only touches it."""
    start, end = ((row[name] - begin).total_seconds() / 60 for name in ("start_utc", "end_utc"))
    overlap = 0.0
    for dip in dips.iter_rows(named=True):
        pressed = (dip["at_utc"] - begin).total_seconds() / 60
        overlap = max(overlap, min(pressed + dip["minutes"] + RETURN_MINUTES, end) - max(pressed, start))
    if overlap > 0:
        lowest = np.sort(blood[max(0, int(start) - LAG_MINUTES) : int(end) + 5])[:10].mean()
        return DIP if overlap >= (end - start) / 2 and lowest >= 70 else MIXED
    from_us, to_us = (int(row[name].timestamp() * 1e6) for name in ("start_utc", "end_utc"))
    given = np.searchsorted(taken_us, to_us) > np.searchsorted(taken_us, from_us - 30 * MINUTE_US)
    if not given:
        return NONE
    return LOGGED if row["first_dose_utc"] is not None else UNLOGGED
