"""The levels of a person's time bands: evidence, hyperparameter grid, filtering and smoothing."""

from gramrise.estimate.levels.band_levels import BandLevels, level_model, levels_at
from gramrise.estimate.levels.evidence import Bands, delivery_changes, evidence_of, table_factor, week_of, widened
from gramrise.estimate.levels.filtering import PriorPredictive
from gramrise.estimate.levels.scatter import scatter_scale
from gramrise.estimate.levels.smoothing import LevelHistory, smoothed_history

__all__ = [
    "BandLevels",
    "Bands",
    "LevelHistory",
    "PriorPredictive",
    "delivery_changes",
    "evidence_of",
    "level_model",
    "levels_at",
    "scatter_scale",
    "smoothed_history",
    "table_factor",
    "week_of",
    "widened",
]
