"""Floor 2: pairings to untreated paths, shapes, factors and predictions. Pure functions over frames and arrays.

Other rooms import only what is named here. METHOD.md says what is computed and why; the parts, lowest first:

    path        the untreated path, the shape of a rise, candidate parameters, windows of readings, the Kalman filter
    treatment   the likelihood of one treatment's factor, its forecast, the posterior over candidates
    levels      the levels of a person's time bands: hyperparameter grid, filtering, smoothing
    answer      factors with their uncertainty and state, predictions, courses, what to log next
    estimation  the entry: all of it for one person
"""

from gramrise.estimate.answer import (
    BandState,
    Lack,
    WeekLevel,
    band_state,
    factor_row,
    last_delivery_change,
    level_course,
    log_next_sentence,
    weight_is_young,
)
from gramrise.estimate.body_weight import weight_on
from gramrise.estimate.estimation import Estimated, estimate
from gramrise.estimate.levels import scatter_scale
from gramrise.estimate.path import PathParameters, RiseShape, expected_rise, shipped_parameters
from gramrise.estimate.settings import EstimateSettings, StateSettings, estimate_settings
from gramrise.estimate.settings import shipped as shipped_settings

__all__ = [
    "BandState",
    "EstimateSettings",
    "Estimated",
    "Lack",
    "PathParameters",
    "RiseShape",
    "StateSettings",
    "WeekLevel",
    "band_state",
    "estimate",
    "estimate_settings",
    "expected_rise",
    "factor_row",
    "last_delivery_change",
    "level_course",
    "log_next_sentence",
    "scatter_scale",
    "shipped_parameters",
    "shipped_settings",
    "weight_is_young",
    "weight_on",
]
