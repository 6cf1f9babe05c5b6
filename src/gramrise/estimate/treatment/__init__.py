"""One treatment: the likelihood of its factor, its forecast, and the posterior over candidates."""

from gramrise.estimate.treatment.forecast import Forecast, forecast_by_best_candidate
from gramrise.estimate.treatment.measurement import Records
from gramrise.estimate.treatment.measurement_cache import Standing, inputs_from, standing
from gramrise.estimate.treatment.model_averaging import AveragedMeasurements, average_over_candidates, measured_from
from gramrise.estimate.treatment.prediction_check import ReadingPredictive, coverage, predictions_frame

__all__ = [
    "AveragedMeasurements",
    "Forecast",
    "ReadingPredictive",
    "Records",
    "Standing",
    "average_over_candidates",
    "coverage",
    "forecast_by_best_candidate",
    "inputs_from",
    "measured_from",
    "predictions_frame",
    "standing",
]
