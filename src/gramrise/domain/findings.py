"""Everything found for one person: what the store keeps, the report shows and --json prints."""

from dataclasses import dataclass, field
from datetime import datetime

import polars as pl

from gramrise.domain import frames
from gramrise.domain.model_version import MODEL_VERSION
from gramrise.domain.person import Person

__all__ = ["MODEL_VERSION", "Findings", "Inputs"]


@dataclass(frozen=True, slots=True)
class Inputs:
    """One person's stored inputs, each frame as its contract says."""

    person: Person
    readings: pl.DataFrame = field(default_factory=frames.READINGS.empty)
    fingers: pl.DataFrame = field(default_factory=frames.FINGERS.empty)
    doses: pl.DataFrame = field(default_factory=frames.DOSES.empty)
    events: pl.DataFrame = field(default_factory=frames.EVENTS.empty)


@dataclass(frozen=True, slots=True)
class Findings:
    """What was found from `Inputs` as of an instant; a function of the inputs and the model version alone."""

    as_of_utc: datetime
    lows: pl.DataFrame = field(default_factory=frames.LOWS.empty)
    treatments: pl.DataFrame = field(default_factory=frames.TREATMENTS.empty)
    pairings: pl.DataFrame = field(default_factory=frames.PAIRINGS.empty)
    paths: pl.DataFrame = field(default_factory=frames.PATHS.empty)
    factors: pl.DataFrame = field(default_factory=frames.FACTORS.empty)
    predictions: pl.DataFrame = field(default_factory=frames.PREDICTIONS.empty)
    courses: pl.DataFrame = field(default_factory=frames.COURSES.empty)
    model_version: str = MODEL_VERSION
    unnoticed_low_utc: datetime | None = None  # start of the latest deep low that nobody noticed, where the log tells
    log_next: str = ""  # code of the missing log that would narrow the interval most; '' when none
