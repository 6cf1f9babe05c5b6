"""One treatment: the likelihood of its factor, its forecast, and the posterior over candidates."""

from gramrise.estimate.treatment.forecast import Forecast, forecast_by_best_candidate
from gramrise.estimate.treatment.measurement import MeasurementSetup, Records
from gramrise.estimate.treatment.measurement_cache import TreatmentSource, measurements, pictures_of
from gramrise.estimate.treatment.model_averaging import (
    AveragedMeasurements,
    average_over_candidates,
    candidate_posterior_of,
    weights_of,
)
from gramrise.estimate.treatment.pictures import drawing_of
from gramrise.estimate.treatment.placebo import PathOffset, path_offset
from gramrise.estimate.treatment.prediction_check import ReadingPredictive, coverage, predictions_frame
from gramrise.estimate.treatment.untreated_evidence import (
    UntreatedStretches,
    latest_stretches,
    stretches_from,
    untreated_log_weights,
)

__all__ = [
    "AveragedMeasurements",
    "Forecast",
    "MeasurementSetup",
    "PathOffset",
    "ReadingPredictive",
    "Records",
    "TreatmentSource",
    "UntreatedStretches",
    "average_over_candidates",
    "candidate_posterior_of",
    "coverage",
    "drawing_of",
    "forecast_by_best_candidate",
    "latest_stretches",
    "measurements",
    "path_offset",
    "pictures_of",
    "predictions_frame",
    "stretches_from",
    "untreated_log_weights",
    "weights_of",
]
