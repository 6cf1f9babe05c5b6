"""Floor 2: pairings to untreated paths, shapes, factors and predictions. Pure functions over frames and arrays."""

from gramrise.estimate.estimate import Estimated, estimate
from gramrise.estimate.log_next import log_next_sentence
from gramrise.estimate.prediction import coverage
from gramrise.estimate.settings import EstimateSettings, estimate_settings

__all__ = ["EstimateSettings", "Estimated", "coverage", "estimate", "estimate_settings", "log_next_sentence"]
