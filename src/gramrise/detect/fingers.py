"""Finger-sticks beside the trace: where finger and sensor disagreed, and where a finger-stick saw the low, too."""

import numpy as np
import polars as pl

from gramrise.detect.settings import DetectSettings
from gramrise.detect.trace import US_PER_MINUTE, Flags, Instants, Trace, instants


def finger_verdicts(
    fingers: pl.DataFrame, trace: Trace, from_us: Instants, to_us: Instants, settings: DetectSettings
) -> tuple[Flags, Flags]:
    """For each span [from, to): whether a finger-stick in it disagreed with the sensor, and whether one was below 70.

    A finger-stick is compared with the nearest reading within `finger_minutes`; out-of-range values by their bounds.
    """
    at_us = instants(fingers["at_utc"])
    value = fingers["glucose_mg_dl"].to_numpy()
    disagrees = np.zeros(len(at_us), dtype=np.bool_)
    if len(trace) and len(at_us):
        left = np.maximum(trace.before(at_us), 0)
        right = np.minimum(left + 1, len(trace) - 1)
        nearer = np.where(np.abs(trace.at_us[right] - at_us) < np.abs(trace.at_us[left] - at_us), right, left)
        close = np.abs(trace.at_us[nearer] - at_us) <= int(settings.finger_minutes * US_PER_MINUTE)
        disagrees = close & (np.abs(value - trace.mg_dl[nearer]) > settings.finger_mg_dl)
    return _any_in(at_us, disagrees, from_us, to_us), _any_in(at_us, value < settings.low_mg_dl, from_us, to_us)


def _any_in(at_us: Instants, flags: Flags, from_us: Instants, to_us: Instants) -> Flags:
    """Whether any flagged instant lies in each span [from, to)."""
    flagged = at_us[flags]
    return np.asarray(
        np.searchsorted(flagged, to_us, "left") > np.searchsorted(flagged, from_us, "left"), dtype=np.bool_
    )
