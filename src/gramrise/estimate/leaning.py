"""What a person's latest untreated stretches say of the candidates, before any treatment is asked.

Falls that nobody treated show how the level goes on by itself: whether it is drawn back soon or late. They say nothing
of the rise. Each counts by the density of its readings after its moment given those before, as treatments do.
"""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.estimate.alone import Gauge
from gramrise.estimate.candidates import scores_of
from gramrise.estimate.filter_types import Array
from gramrise.estimate.growth import with_weights
from gramrise.estimate.model import Model
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.stretches import untreated_stretches
from gramrise.estimate.treatment import factor_likelihood
from gramrise.estimate.windows import laid_out


def stretches_from(as_of_utc: datetime, settings: PathSettings) -> datetime:
    """The instant from which on readings and events are asked for untreated stretches."""
    return as_of_utc - timedelta(days=settings.stretches.latest_days)


def leaning(inputs: Inputs, as_of_utc: datetime, gauge: Gauge) -> Array:
    """[K] log weights of the candidates from the latest untreated stretches; candidates of one path lean alike.

    inputs  readings from `stretches_from` on suffice, and food and glucose given of any time
    """
    settings, candidates = gauge.settings, gauge.model.candidates
    paths = list(dict.fromkeys(candidate.path for candidate in candidates))
    nothing = np.zeros(len(candidates))
    since = stretches_from(as_of_utc, settings)
    near = replace(inputs, readings=inputs.readings.filter(pl.col("at_utc").is_between(since, as_of_utc)))
    moments = untreated_stretches(near, settings) if len(paths) > 1 and near.readings.height else None
    if moments is None or not moments.height:
        return nothing
    latest = with_weights(inputs.person, moments.filter(pl.col("window_from_utc") >= since))
    windows = laid_out(near, latest.tail(settings.stretches.latest_n), settings).without_doses()
    if not windows.row.size:
        return nothing
    one_each = Model.of([next(c for c in candidates if c.path == path) for path in paths])
    found = factor_likelihood(one_each, windows, settings, ())
    scores = scores_of(found.log_height_alone, found.log_height_before, settings).log_scores.sum(axis=1)
    said = dict(zip(paths, settings.stretches.evidence_power * scores, strict=True))
    return np.array([said[candidate.path] for candidate in candidates])
