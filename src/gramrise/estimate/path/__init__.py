"""The untreated path and the shape of a rise: dynamics, candidates, windows of readings, the Kalman filter."""

from gramrise.estimate.path.candidate_model import WEIGHT_UNKNOWN_KG, CandidateModel, regression_columns, response
from gramrise.estimate.path.candidates import candidates_of, log_prior_of, shipped_parameters
from gramrise.estimate.path.censoring import Readings, with_bounds
from gramrise.estimate.path.dynamics import LEVEL
from gramrise.estimate.path.kalman import forecast_level, regression, smooth_level
from gramrise.estimate.path.parameters import PathParameters
from gramrise.estimate.path.rise_shape import RiseShape, expected_rise, rise_curve
from gramrise.estimate.path.stretches import untreated_stretches
from gramrise.estimate.path.trace import MINUTE_US, minutes_of
from gramrise.estimate.path.windows import TreatmentWindows, doses_of, laid_out, measurable, reads_to

__all__ = [
    "LEVEL",
    "MINUTE_US",
    "WEIGHT_UNKNOWN_KG",
    "CandidateModel",
    "PathParameters",
    "Readings",
    "RiseShape",
    "TreatmentWindows",
    "candidates_of",
    "doses_of",
    "expected_rise",
    "forecast_level",
    "laid_out",
    "log_prior_of",
    "measurable",
    "minutes_of",
    "reads_to",
    "regression",
    "regression_columns",
    "response",
    "rise_curve",
    "shipped_parameters",
    "smooth_level",
    "untreated_stretches",
    "with_bounds",
]
