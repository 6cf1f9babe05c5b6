"""Drift: the change of a person's levels since a reference, by an exact chain of weeks on a grid of the level."""

from gramrise.estimate.drift.change import drift_of, empty_drift

__all__ = ["drift_of", "empty_drift"]
