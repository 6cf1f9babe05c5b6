"""The levels of a person's time bands: evidence, hyperparameter grid, filtering and smoothing."""

from gramrise.estimate.levels.band_levels import BandLevels, level_model, levels_at
from gramrise.estimate.levels.evidence import (
    Bands,
    Evidence,
    delivery_changes,
    evidence_of,
    table_factor,
    week_of,
    widened,
)
from gramrise.estimate.levels.filtering import PriorPredictive
from gramrise.estimate.levels.scatter import log_likelihood, scatter_mass, scatter_scale
from gramrise.estimate.levels.seen_rise import seen_rise_evidence
from gramrise.estimate.levels.smoothing import LevelHistory, smoothed_history

__all__ = [
    "BandLevels",
    "Bands",
    "Evidence",
    "LevelHistory",
    "PriorPredictive",
    "delivery_changes",
    "evidence_of",
    "level_model",
    "levels_at",
    "log_likelihood",
    "scatter_mass",
    "scatter_scale",
    "seen_rise_evidence",
    "smoothed_history",
    "table_factor",
    "week_of",
    "widened",
]
