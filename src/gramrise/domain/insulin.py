"""How long rapid insulin acts: one published action curve for every floor that must know what is still acting."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

MICROSECONDS_PER_MINUTE: Final = 60_000_000


@dataclass(frozen=True, slots=True)
class ActionCurve:
    """Rapid insulin leaving the depot under the skin by two equal steps, one after the other.

    `minutes_to_peak` is the time constant of each step and the time at which the outflow is greatest.
    """

    name: str
    minutes_to_peak: float
    source: str

    def remaining(self, minutes: ArrayLike) -> NDArray[np.float64]:
        """Share of a bolus still to act `minutes` after it: 1 at 0, falling to 0; 0 before it was given."""
        since = np.asarray(minutes, dtype=np.float64)
        ratio = np.maximum(since, 0.0) / self.minutes_to_peak
        return np.asarray(np.where(since < 0, 0.0, (1.0 + ratio) * np.exp(-ratio)), dtype=np.float64)

    def acting_per_minute(self, minutes: ArrayLike) -> NDArray[np.float64]:
        """Share of a bolus that acts in one minute, `minutes` after it: minus the slope of `remaining`; sums to 1."""
        since = np.maximum(np.asarray(minutes, dtype=np.float64), 0.0)
        return np.asarray(since / self.minutes_to_peak**2 * np.exp(-since / self.minutes_to_peak), dtype=np.float64)


# Hovorka R et al. Physiol Meas 2004;25:905: absorption of rapid insulin by two compartments, tmaxI = 55 min. It leaves
# 16 % to act after three hours and 7 % after four, within the published duration of 2-4 h (Ahmann & Riddle 2002).
RAPID_INSULIN: Final = ActionCurve("rapid", 55.0, "Hovorka 2004, tmaxI = 55 min")


def insulin_on_board(
    given_at_us: NDArray[np.int64],
    units: NDArray[np.float64],
    at_us: NDArray[np.int64],
    curve: ActionCurve = RAPID_INSULIN,
    longest_minutes: float = 8 * 60.0,
) -> NDArray[np.float64]:
    """Units of rapid insulin still to act at given instants.

    given_at_us      boluses' instants, microseconds since 1970 UTC, ascending, shape (b,)
    units            their units, >= 0; NaN (amount not stated) counts as 0, shape (b,)
    at_us            instants asked about, any order, shape (n,)
    longest_minutes  a bolus older than this counts as gone (0.1 % of it is left after 8 h)
    returns          units, shape (n,)
    """
    known = np.nan_to_num(units, nan=0.0)
    first = np.searchsorted(given_at_us, at_us - int(longest_minutes * MICROSECONDS_PER_MINUTE), "right")
    past = np.searchsorted(given_at_us, at_us, "right")
    most = int((past - first).max(initial=0))
    total = np.zeros(len(at_us))
    for nth in range(most):  # a handful: boluses within the last hours
        index = np.minimum(first + nth, len(given_at_us) - 1)
        minutes = (at_us - given_at_us[index]) / MICROSECONDS_PER_MINUTE
        total += np.where(first + nth < past, known[index] * curve.remaining(minutes), 0.0)
    return total
