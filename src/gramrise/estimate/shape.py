"""The shape of the rise: gut chain of two compartments, disposal, then the sensor's lag; shown peak 1.

    first = -first / T          swallowed, in the stomach (1 at minute 0)
    second = (first - second) / T     in the gut
    blood = second / T - disposal * blood
    shown = (blood - shown) / lag

Source of the chain: Hovorka 2004 (Physiol Meas 25:905) with T of pure glucose, 8-16 min, in place of a meal's 40.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.linalg import expm

from gramrise.estimate.filter import Array

MINUTES_N: Final = 361  # minutes for which a shape is tabulated, 0..360: longer than any window that is read


@dataclass(frozen=True, slots=True)
class RiseShape:
    """Parameters of one form's rise; minutes, per minute."""

    gut_min: float  # T, time constant of both gut compartments
    disposal_per_min: float  # rate at which the risen level is taken up
    lag_min: float  # sensor behind blood while rising


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
    """The rise after one amount, tabulated by the minute through the exact one-minute transition."""
    gut, lag, disposal = 1.0 / shape.gut_min, 1.0 / shape.lag_min, shape.disposal_per_min
    move = np.array([[-gut, 0, 0, 0], [gut, -gut, 0, 0], [0, gut, -disposal, 0], [0, 0, lag, -lag]])
    step = expm(move)
    state = np.array([1.0, 0.0, 0.0, 0.0])
    table = np.empty((MINUTES_N, 4))
    for minute in range(MINUTES_N):
        table[minute] = state
        state = step @ state
    peak = table[:, 3].max()
    return RiseCurve(table[:, 2] / peak, table[:, 3] / peak)
