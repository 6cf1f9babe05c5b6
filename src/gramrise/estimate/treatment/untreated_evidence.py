"""A person's latest untreated stretches, and the log weights of the candidates from them.

A fall that nobody treated shows how soon the level turns by itself; it says nothing of the rise. Each counts by the
density of its readings after its moment given those before, as treatments do, times the probability that nobody did
treat it: a low without a word in the log may have been treated all the same.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.words import Outcome
from gramrise.estimate.array_types import Array
from gramrise.estimate.body_weight import with_weights
from gramrise.estimate.path import CandidateModel, TreatmentWindows, laid_out, untreated_stretches
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.treatment.candidate_posterior import candidate_scores
from gramrise.estimate.treatment.likelihood import factor_likelihood
from gramrise.estimate.treatment.measurement import MeasurementSetup

# The end of a low that has not ended, microseconds since 1970: later than any reading.
NOT_ENDED_US: Final = 2**62


def stretches_from(as_of_utc: datetime, settings: PathSettings) -> datetime:
    """The instant from which readings are needed for the latest untreated stretches."""
    return as_of_utc - timedelta(days=settings.stretches.latest_days)


@dataclass(frozen=True, slots=True)
class UntreatedStretches:
    """The latest untreated stretches, B of them."""

    windows: TreatmentWindows  # without doses
    probability: Array  # [B] that each ran untreated


def latest_stretches(
    inputs: Inputs, lows: pl.DataFrame, as_of_utc: datetime, settings: PathSettings
) -> UntreatedStretches | None:
    """The latest untreated stretches of a person; None where there is none.

    inputs  readings from `stretches_from` on suffice, and food and glucose given of any time
    lows    LOWS of the same person: how likely each was treated, or no low at all
    """
    since = stretches_from(as_of_utc, settings)
    near = replace(inputs, readings=inputs.readings.filter(pl.col("at_utc").is_between(since, as_of_utc)))
    moments = untreated_stretches(near, settings) if near.readings.height else None
    if moments is None or not moments.height:
        return None
    latest = moments.filter(pl.col("window_from_utc") >= since).tail(settings.stretches.latest_n)
    windows = laid_out(near, with_weights(inputs.person, latest), settings).without_doses()
    if not windows.row.size:
        return None
    return UntreatedStretches(windows, untreated_probability(latest, lows)[windows.row])


def untreated_log_weights(stretches: UntreatedStretches | None, setup: MeasurementSetup) -> Array:
    """[K] log weights of the candidates from untreated stretches; equal for candidates of one path."""
    settings, candidates = setup.settings, setup.model.candidates
    paths = list(dict.fromkeys(candidate.path for candidate in candidates))
    if stretches is None or len(paths) == 1:
        return np.zeros(len(candidates))
    one_each = CandidateModel.of([next(c for c in candidates if c.path == path) for path in paths])
    found = factor_likelihood(one_each, stretches.windows, settings, ())
    scores = candidate_scores(found.log_height_alone, found.log_height_before, settings).log_scores
    counted = scores @ stretches.probability
    said = dict(zip(paths, settings.stretches.evidence_power * counted, strict=True))
    return np.array([said[candidate.path] for candidate in candidates])


def untreated_probability(stretches: pl.DataFrame, lows: pl.DataFrame) -> Array:
    """[stretches] probability that each ran untreated and that its lows were real.

    stretches   first_dose_utc its moment, window_to_utc its end; it ends before anything that the log holds
    A low whose glucose or food is logged lowers no probability: the stretch ended before that.
    """
    unsaid = lows.filter(~pl.col("outcome").is_in([Outcome.TREATED, Outcome.FOOD_COVERED]))
    begin, end = (stretches[name].dt.epoch("us").to_numpy() for name in ("first_dose_utc", "window_to_utc"))
    low_begin = unsaid["start_utc"].dt.epoch("us").to_numpy()
    low_end = unsaid["end_utc"].dt.epoch("us").fill_null(NOT_ENDED_US).to_numpy()
    touches = (low_begin[None, :] < end[:, None]) & (low_end[None, :] >= begin[:, None])
    real = (1.0 - unsaid["probability_treated"].fill_null(0.0)) * (1.0 - unsaid["probability_dip"].fill_null(0.0))
    return np.asarray(np.where(touches, real.to_numpy()[None, :], 1.0).prod(axis=1))
