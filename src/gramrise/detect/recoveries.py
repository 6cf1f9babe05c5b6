"""Whether glucose was given though nothing is logged: the recovery from a low against untreated recoveries."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from gramrise.detect.lows import LowEvents
from gramrise.detect.settings import DetectSettings
from gramrise.detect.trace import US_PER_DAY, US_PER_MINUTE, Instants, Numbers, Trace, instants


@dataclass(frozen=True, slots=True)
class Recoveries:
    """How each low came and went, mg/dL, arrays over lows: highest reading within 45 and 60 minutes of the lowest
    value, minus that value; and the fall over the 25 minutes to the low's first reading."""

    rise_45: Numbers
    rise_60: Numbers
    fall_before: Numbers


def recoveries_of(trace: Trace, lows: LowEvents, nadir_row: Instants, settings: DetectSettings) -> Recoveries:
    """The recoveries; a rise that is not seen is 0, as of a level that stayed."""
    nadir = trace.mg_dl[nadir_row]
    nadir_us = trace.at_us[nadir_row]
    earlier = np.minimum(
        trace.first_at(lows.start_us - int(settings.recovery_fall_minutes * US_PER_MINUTE)), len(trace) - 1
    )
    return Recoveries(
        _highest(trace, nadir_row, nadir_us, settings.recovery_early_minutes) - nadir,
        _highest(trace, nadir_row, nadir_us, settings.recovery_late_minutes) - nadir,
        trace.mg_dl[earlier] - trace.mg_dl[lows.first],
    )


def _highest(trace: Trace, row: Instants, at_us: Instants, minutes: float) -> Numbers:
    """Highest value from each row to `minutes` after it."""
    past = np.searchsorted(trace.at_us, at_us + int(minutes * US_PER_MINUTE), "right")
    spans = zip(row.tolist(), past.tolist(), strict=True)
    return np.array([trace.mg_dl[first:after].max() for first, after in spans], dtype=np.float64)


def unlogged_share(lows: LowEvents, doses: pl.DataFrame, settings: DetectSettings) -> Numbers:
    """How often glucose goes unlogged, before a recovery speaks: little where the log was kept lately, else much."""
    taken_us = instants(doses["taken_at_utc"])
    since = lows.start_us - int(settings.log_kept_days * US_PER_DAY)
    kept = np.searchsorted(taken_us, lows.start_us, "left") > np.searchsorted(taken_us, since, "left")
    return np.where(kept, settings.unlogged_share_log_kept, settings.unlogged_share_no_log)


def probability_unlogged(found: Recoveries, share: Numbers, settings: DetectSettings) -> Numbers:
    """Probability that glucose was given, from the recovery; `share` is that probability before the recovery speaks."""
    weights = settings.recovery
    early = np.log(np.maximum(found.rise_45, settings.recovery_least_mg_dl) / settings.recovery_even_45_mg_dl)
    late = np.log(np.maximum(found.rise_60, settings.recovery_least_mg_dl) / settings.recovery_even_60_mg_dl)
    told = (
        weights.constant
        + weights.log_rise_45 * early
        + weights.log_rise_60 * late
        + weights.log_rise_60_far * np.maximum(late - settings.recovery_far_log, 0.0)
        + weights.fall_per_10_mg_dl * np.clip(found.fall_before, -10, 40) / 10
    )
    odds = np.log(share / (1 - share)) + np.minimum(told, settings.recovery_most_log)
    return np.asarray(1 / (1 + np.exp(-odds)), dtype=np.float64)
