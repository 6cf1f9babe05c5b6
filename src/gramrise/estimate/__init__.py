"""Floor 2: pairings to untreated paths, shapes, factors and predictions. Pure functions over frames and arrays."""

from gramrise.estimate.answer.log_next import log_next_sentence
from gramrise.estimate.estimate import Estimated, estimate
from gramrise.estimate.settings import EstimateSettings, estimate_settings
from gramrise.estimate.treatment.prediction_check import coverage

__all__ = ["EstimateSettings", "Estimated", "coverage", "estimate", "estimate_settings", "log_next_sentence"]
