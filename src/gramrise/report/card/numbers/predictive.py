"""Where the level will stand after a first amount: the predictive distribution, by fixed quadrature, no random numbers.

    level(t) = reading now + reading error + wander(t) - fall(t) + rise(grams) * share of the rise shown at t

The reading now is spread evenly over the card's row; reading error and wander are normal; the rise is the band's
rise factor (log-normal posterior, all doubt in it) times the scatter of single treatments (Student's t on the log
scale) times the effective grams. The rise is never negative, so more glucose always moves the whole distribution up:
the properties "a lower reading never gets less" and "a smaller factor never gets less" rest on that.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import expm1
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, stdtrit

from gramrise.estimate import scatter_scale
from gramrise.report.card.numbers.response import Response

Array = NDArray[np.float64]

# Nodes over the factor's posterior and over the scatter of treatments. Our choice: doubling both moves no amount by
# a hundredth of a gram (tests/unit/card).
FACTOR_NODES: Final = 12
SCATTER_NODES: Final = 24
HALVINGS: Final = 30  # of the bracket when a quantile is sought: to a hundred-thousandth of a mg/dL


@dataclass(frozen=True, slots=True)
class Doubt:
    """The band's rise factor and everything that spreads the outcome of one treatment."""

    factor_mg_dl_per_g: float  # posterior median
    sd_log: float  # of the factor, all doubt in it
    event_sd_log: float  # scatter of single treatments about it
    event_degrees_of_freedom: float
    reading_error_sd_mg_dl: float
    drift_sd_mg_dl: float  # after drift_minutes, growing with the root of time
    drift_minutes: float

    def normal_sd_mg_dl(self, minutes: float) -> float:
        """Reading error and wander together, minutes after the reading."""
        return float(np.hypot(self.reading_error_sd_mg_dl, self.drift_sd_mg_dl * (minutes / self.drift_minutes) ** 0.5))


@dataclass(frozen=True, slots=True)
class Fall:
    """A fall that is under way at the reading and dies away by itself."""

    mg_dl_per_min: float  # at the reading, > 0
    lasts_minutes: float  # time constant

    def fallen_mg_dl(self, minutes: float) -> float:
        """How far the level has fallen that many minutes after the reading."""
        return self.mg_dl_per_min * self.lasts_minutes * -expm1(-minutes / self.lasts_minutes)


@dataclass(frozen=True, slots=True)
class Predictive:
    """The level after a first amount started at a reading in [`from_mg_dl`, `to_mg_dl`]."""

    from_mg_dl: float
    to_mg_dl: float
    doubt: Doubt
    response: Response

    def chance_below(self, level_mg_dl: float, grams: float, minutes: float, fall: Fall | None = None) -> float:
        """Probability that the level lies below `level_mg_dl` that many minutes after `grams`; `fall` None: steady."""
        fallen = 0.0 if fall is None else fall.fallen_mg_dl(minutes)
        return self._below(level_mg_dl + fallen, self._reached_grams(grams, minutes), minutes)

    def quantile(self, probability: float, grams: float, minutes: float) -> float:
        """The level, mg/dL, below which the share `probability` of treatments stands."""
        reached, sd = self._reached_grams(grams, minutes), self.doubt.normal_sd_mg_dl(minutes)
        low = self.from_mg_dl - 8 * sd - 1  # eight sd: beyond any probability that is asked for
        step = self.doubt.factor_mg_dl_per_g * reached + 8 * sd + 1
        high = self.to_mg_dl + step
        while self._below(high, reached, minutes) < probability:
            high, step = high + step, 2 * step
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            if self._below(middle, reached, minutes) < probability:
                low = middle
            else:
                high = middle
        return (low + high) / 2

    def _reached_grams(self, grams: float, minutes: float) -> float:
        return self.response.effective_grams(grams) * self.response.share(minutes)

    def _below(self, level_mg_dl: float, reached_grams: float, minutes: float) -> float:
        rises, weights = rise_nodes(self.doubt)
        sd = self.doubt.normal_sd_mg_dl(minutes)
        below = _even_plus_normal(level_mg_dl - rises * reached_grams, self.from_mg_dl, self.to_mg_dl, sd)
        return float(weights @ below)


@lru_cache(maxsize=64)
def rise_nodes(doubt: Doubt) -> tuple[Array, Array]:
    """Rises per effective gram, mg/dL, and their probabilities."""
    z, z_weights = np.polynomial.hermite_e.hermegauss(FACTOR_NODES)
    u, u_weights = np.polynomial.legendre.leggauss(SCATTER_NODES)
    scale = float(scatter_scale(np.asarray(doubt.event_sd_log), doubt.event_degrees_of_freedom))
    scatter = scale * stdtrit(doubt.event_degrees_of_freedom, (u + 1) / 2)
    log_rise = doubt.sd_log * z[:, None] + scatter[None, :]
    weights = np.outer(z_weights / z_weights.sum(), u_weights / u_weights.sum())
    return doubt.factor_mg_dl_per_g * np.exp(log_rise).ravel(), weights.ravel()


def _even_plus_normal(value: Array, low: float, high: float, sd: float) -> Array:
    """Probability that an even spread over [low, high] plus a normal of `sd` lies below each value."""
    if sd == 0:
        below = np.clip((value - low) / (high - low), 0.0, 1.0) if low < high else value > low
        return np.asarray(below, dtype=np.float64)
    if low == high:
        return np.asarray(ndtr((value - low) / sd))
    upper, lower = _ndtr_integral((value - low) / sd), _ndtr_integral((value - high) / sd)
    return np.asarray((upper - lower) * sd / (high - low))


def _ndtr_integral(x: Array) -> Array:
    """Integral of the normal distribution function from minus infinity to x."""
    return np.asarray(x * ndtr(x) + np.exp(-x * x / 2) / np.sqrt(2 * np.pi))
