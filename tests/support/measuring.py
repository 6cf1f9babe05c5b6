"""Every treatment of one person measured in one go, as tests of single treatments want it."""

from dataclasses import dataclass
from datetime import UTC, datetime

import polars as pl

from gramrise.domain.frames import LOWS
from gramrise.domain.pictures import paths_of
from gramrise.estimate.array_types import Array
from gramrise.estimate.path.parameters import PathParameters
from gramrise.estimate.treatment.measurement import MeasurementSetup, measure_each
from gramrise.estimate.treatment.model_averaging import average_over_candidates, candidate_posterior_of, weights_of
from gramrise.estimate.treatment.pictures import draw, drawing_of
from gramrise.estimate.treatment.untreated_evidence import latest_stretches, untreated_log_weights


@dataclass(frozen=True, slots=True)
class Measured:
    """As `AveragedMeasurements`, and PATHS of the pictures."""

    frame: pl.DataFrame
    paths: pl.DataFrame
    candidates: tuple[PathParameters, ...]
    weights: Array


def measure(inputs, screened, settings, with_paths=True):
    """Measure every treatment of one person whose readings suffice.

    screened  SCREENED of one person in order of time; a column weight_kg f64 beside it where the weight is known
    """
    setup = MeasurementSetup.of(settings)
    records, _ = measure_each(inputs, screened, setup)
    weights = weights_of(screened)
    last = inputs.readings["at_utc"].max() or datetime(1970, 1, 1, tzinfo=UTC)
    posterior = candidate_posterior_of(
        records, screened, setup, untreated_log_weights(latest_stretches(inputs, LOWS.empty(), last, settings), setup)
    )
    drawing = drawing_of(records, posterior, weights, setup)
    drawn = draw(inputs, screened[drawing.rows], drawing, setup) if with_paths else None
    found = average_over_candidates(records, posterior, weights, screened, setup, drawn)
    firsts = screened["first_dose_utc"].dt.epoch("us").to_numpy()[drawing.rows].tolist()
    packed = [each.packed() for each in drawn or ()]
    paths = paths_of(inputs.person.person_id, zip(firsts, packed, strict=with_paths))
    return Measured(found.frame, paths, found.candidates, found.weights)
