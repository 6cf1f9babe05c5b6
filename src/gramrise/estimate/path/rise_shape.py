"""The shape of the rise: gut chain of two compartments, disposal, then the sensor's lag.

    first = -first / T                swallowed, in the stomach (1 at minute 0)
    second = (first - second) / T     in the gut
    blood = second / T - disposal * blood
    shown = (blood - shown) / lag

Each curve is scaled so that what the sensor shows peaks at 1. Absorption differs from person to person and from one
treatment to the next, so the expected rise of a treatment is the mean of the curves over that spread. Its peak is a
little lower and flatter; a factor read against a single curve would be too small by that much.

Source of the chain: Hovorka 2004 (Physiol Meas 25:905), with T of pure glucose, 8-16 min, in place of a meal's 40.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

from gramrise.estimate.array_types import Array

MINUTES_N: Final = 361  # minutes for which a shape is tabulated, 0..360: longer than any window that is read
# Spread of single treatments about the form's shape, sd of log. Gut: the published range of 8-16 min taken as about
# two sd to each side. Disposal: our choice, insulin differs by more than half from one treatment to the next.
GUT_SD_LOG: Final = 0.2
DISPOSAL_SD_LOG: Final = 0.5
GUT_NODES, DISPOSAL_NODES = 5, 3
# Rates closer than this share of each other are moved apart, as the closed form divides by their difference.
APART: Final = 1e-3


@dataclass(frozen=True, slots=True)
class RiseShape:
    """Parameters of one form's rise; minutes, per minute."""

    gut_min: float  # T, time constant of both gut compartments
    disposal_per_min: float  # rate at which the risen level is taken up
    lag_min: float  # sensor behind blood while rising


SHAPE_FIELDS: Final = tuple(RiseShape.__dataclass_fields__)


@dataclass(frozen=True, slots=True)
class RiseCurve:
    """A shape minute by minute, scaled so that what the sensor shows peaks at 1: factors are read off sensors."""

    blood: Array  # [MINUTES_N]
    shown: Array  # [MINUTES_N] what the sensor shows

    @property
    def minutes_to_peak(self) -> int:
        return int(np.argmax(self.blood))

    @property
    def minutes_to_half(self) -> float:
        """Minutes from swallowing until the blood has risen by half of its peak."""
        half = self.blood.max() / 2
        after = int(np.argmax(self.blood >= half))
        low, high = self.blood[after - 1], self.blood[after]
        return float(after - 1 + (half - low) / (high - low))

    def share_left(self, minute: int = 90) -> float:
        """Share of the peak that is left in the blood at a minute after swallowing."""
        return float(self.blood[minute] / self.blood.max())


def rise_curve(shape: RiseShape) -> RiseCurve:
    """The rise after one amount in one go, without spread."""
    blood, shown = rises(np.array(shape.gut_min), np.array(shape.disposal_per_min), np.array(shape.lag_min))
    return RiseCurve(blood, shown)


def rises(gut_min: Array, disposal_per_min: Array, lag_min: Array) -> tuple[Array, Array]:
    """Blood and shown level by minute in closed form; parameters broadcast, result [..., MINUTES_N], shown peak 1."""
    a, d, s = (np.asarray(v, dtype=float)[..., None] for v in (1.0 / gut_min, disposal_per_min, 1.0 / lag_min))
    d = np.where(np.abs(a - d) < APART * a, a * (1 - 2 * APART), d)
    s = np.where(np.abs(s - a) < APART * a, a * (1 + 2 * APART), s)
    s = np.where(np.abs(s - d) < APART * d, d * (1 + 2 * APART), s)
    t = np.arange(MINUTES_N)
    gut, gone, late = np.exp(-a * t), np.exp(-d * t), np.exp(-s * t)
    u = a - d
    blood = a**2 * (gone / u**2 - gut * (t / u + 1 / u**2))
    of_gone = s * (gone - late) / (s - d)
    of_gut = s * (gut - late) / (s - a)
    of_gut_t = s * (t * gut / (s - a) - (gut - late) / (s - a) ** 2)
    shown = a**2 * (of_gone / u**2 - of_gut_t / u - of_gut / u**2)
    peak = shown.max(axis=-1, keepdims=True)
    return blood / peak, shown / peak


def expected_rise(gut_min: Array, disposal_per_min: Array, lag_min: Array) -> Array:
    """Mean of what the sensor shows over the spread of single treatments; parameters broadcast, [..., MINUTES_N]."""
    gut_at, gut_weight = hermegauss(GUT_NODES)
    gone_at, gone_weight = hermegauss(DISPOSAL_NODES)
    gut = np.multiply.outer(gut_min, np.exp(GUT_SD_LOG * gut_at))[..., :, None]
    gone = np.multiply.outer(disposal_per_min, np.exp(DISPOSAL_SD_LOG * gone_at))[..., None, :]
    _, shown = rises(gut, gone, np.asarray(lag_min)[..., None, None])
    weight = np.multiply.outer(gut_weight / gut_weight.sum(), gone_weight / gone_weight.sum())
    return np.asarray(np.einsum("gd,...gdm->...m", weight, shown))
