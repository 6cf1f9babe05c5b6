"""The prediction check: readings 30 and 45 minutes after a treatment, predicted before it was learned from.

Repeatable, not proof: errors of the untreated path and of the rise can cancel.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.frames import PREDICTIONS
from gramrise.estimate.path import minutes_of
from gramrise.estimate.settings import PredictionSettings

Floats = NDArray[np.float64]

# Nodes and weights of the standard normal, to integrate over a treatment's factor (Gauss-Hermite, 13 points).
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(13)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
# Where quantiles are looked for: within so many sd of the nodes that carry all but two thousandths of the weight. Our
# choice: so many halvings leave a bracket of hundredths of a mg/dL, on which the distribution is straight.
_INNER: Final = np.flatnonzero(np.abs(_NODES) < 3.0)
_REACH_SD: Final = 4.0
_HALVINGS: Final = 15
_QUANTILES: Final = (0.5, 0.05, 0.95)


@dataclass(frozen=True, slots=True)
class ReadingPredictive:
    """The predictive distribution of readings before a treatment is learned from; arrays [readings].

    The reading is normal(untreated, untreated_sd) + grams_shown x factor, the factor log-normal, grams_shown normal.
    """

    untreated_mg_dl: Floats
    untreated_sd_mg_dl: Floats  # of the reading: path and sensor noise
    grams_shown: Floats  # grams at work: mg/dL that one mg/dL per g of factor adds to the reading
    grams_shown_sd: Floats  # sd of that, from the uncertain dose time
    log_factor: Floats  # median of the treatment's own factor, log mg/dL per g
    log_factor_sd: Floats  # of the level and of the scatter of treatments


def predicted(predictive: ReadingPredictive) -> tuple[Floats, Floats, Floats]:
    """Median and the ends of the 90 % interval of each reading, mg/dL."""
    factor = np.exp(predictive.log_factor[:, None] + predictive.log_factor_sd[:, None] * _NODES)
    middles = predictive.untreated_mg_dl[:, None] + predictive.grams_shown[:, None] * factor
    sd = np.hypot(predictive.untreated_sd_mg_dl[:, None], predictive.grams_shown_sd[:, None] * factor)
    median, low, high = (_quantile(middles, sd, share) for share in _QUANTILES)
    return median, low, high


def _quantile(middles: Floats, sd: Floats, share: float) -> Floats:
    """Quantile of a mixture of normals with the fixed weights. Shapes [readings, nodes].

    By halving, and at the end along the straight line between the bracket's ends.
    """
    from scipy.special import ndtr

    inner, reach = middles[:, _INNER], _REACH_SD * sd[:, _INNER]
    low, high = (inner - reach).min(axis=1), (inner + reach).max(axis=1)
    below_low, below_high = np.zeros(low.shape), np.ones(high.shape)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        below = ndtr((middle[:, None] - middles) / sd) @ _WEIGHTS
        under = below < share
        low, high = np.where(under, middle, low), np.where(under, high, middle)
        below_low, below_high = np.where(under, below, below_low), np.where(under, below_high, below)
    return np.asarray(low + (high - low) * (share - below_low) / np.maximum(below_high - below_low, 1e-12))


def seen_readings(asked_min: Floats, readings: pl.DataFrame, settings: PredictionSettings) -> Floats:
    """The reading in range nearest to each asked minute since 1970, nan when none is near; of two as near the later.

    readings  READINGS of one person, in order of time
    """
    in_range = readings.filter(readings["range"] == "in")
    at, value = minutes_of(in_range["at_utc"]), in_range["glucose_mg_dl"].to_numpy()
    if not at.size:
        return np.full(asked_min.shape, np.nan)
    later = np.searchsorted(at, asked_min).clip(0, at.size - 1)
    earlier = np.maximum(later - 1, 0)
    nearest = np.where(np.abs(at[later] - asked_min) <= np.abs(at[earlier] - asked_min), later, earlier)
    near = np.abs(at[nearest] - asked_min) <= settings.reading_within_minutes
    return np.where(near, value[nearest], np.nan)


def predictions_frame(wanted: pl.DataFrame, predictive: ReadingPredictive) -> pl.DataFrame:
    """PREDICTIONS from rows (person_id, first_dose_utc, minutes_after, seen_mg_dl) and their outlook, in one order."""
    median, low, high = predicted(predictive)
    seen = pl.col("seen_mg_dl")
    frame = wanted.with_columns(
        predicted_mg_dl=pl.Series(median), p05_mg_dl=pl.Series(low), p95_mg_dl=pl.Series(high)
    ).with_columns(inside=(seen >= pl.col("p05_mg_dl")) & (seen <= pl.col("p95_mg_dl")))
    return PREDICTIONS.check(frame)


def coverage(predictions: pl.DataFrame, last: int) -> tuple[float | None, int]:
    """Share of seen readings inside their 90 % interval over the last treatments that have one, and how many those are.

    predictions  PREDICTIONS of one person (or of one band's treatments)
    last         treatments counted, the latest; both readings of a treatment count
    returns      (share or None when nothing was seen, treatments counted)
    """
    checked = predictions.filter(pl.col("inside").is_not_null())
    counted = checked["first_dose_utc"].unique().sort().tail(last)
    inside = checked.filter(pl.col("first_dose_utc").is_in(counted.implode()))["inside"]
    return (float(inside.sum()) / len(inside) if len(inside) else None), len(counted)
