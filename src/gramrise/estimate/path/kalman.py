"""A Kalman filter over many short series at once, with regression columns that share its gains, and its smoother.

The state x moves by x' = Phi[step] x + noise of covariance Q[step]; a reading is the observation vector times x, plus
its own noise. Steps are whole units of time (minutes), looked up in tables, so one code serves gaps and sensors of any
step. The variance recursion does not look at the values: all columns of a series share its gains, and so do candidates
that differ in the shape of the rise only. Letters in shapes, throughout this room:

    K candidates   B series   T points in time   n states   P columns (column 0: the readings)   A asked points

The recursions are compiled (`gramrise.estimate.compiled`), which is imported where it is used: it costs 0.3 s.
Source: Durbin & Koopman, Time Series Analysis by State Space Methods, 2012, sections 4.3-4.5 and 6.2 (regression).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gramrise.estimate.array_types import Array, Flags, Whole


@dataclass(frozen=True, slots=True)
class StateSpace:
    """K linear Gaussian models of one form. Tables hold the move over 0, 1, 2, ... units of time."""

    transition: Array  # [K, D, n, n]
    noise: Array  # [K, D, n, n]
    seen: Array  # [n] observation vector
    reading_variance: Array  # [K]
    start_mean: Array  # [K, n]
    start_covariance: Array  # [K, n, n]

    @property
    def states_n(self) -> int:
        return int(self.seen.size)


def stacked(spaces: Sequence[StateSpace]) -> StateSpace:
    """Models of one form side by side as candidates."""

    def joined(name: str) -> Array:
        return np.concatenate([getattr(space, name) for space in spaces])

    return StateSpace(
        joined("transition"),
        joined("noise"),
        spaces[0].seen,
        joined("reading_variance"),
        joined("start_mean"),
        joined("start_covariance"),
    )


@dataclass(frozen=True, slots=True)
class Regression:
    """Sums over one series' readings from which every regression through the filter follows."""

    products: Array  # [P, P, K, B] column 0 the readings
    log_variances: Array  # [K, B]
    readings_n: Whole  # [B]

    @property
    def log_likelihood_without_columns(self) -> Array:
        """[K, B] log density of the readings where no regressor acts."""
        constant = self.readings_n * np.log(2 * np.pi)
        density: Array = -0.5 * (self.products[0, 0] + self.log_variances + constant)
        return density


def regression(
    space: StateSpace,
    steps: Whole,
    present: Flags,
    extra_variance: Array,
    columns: Array,
    begins: Whole | None = None,
    before: Whole | None = None,
    early_n: int = 1,
    met: int | None = None,
) -> tuple[Regression, Regression]:
    """Run the filter once over every window and sum the products of all standardised innovations.

    steps, present, extra_variance  [B, T]
    columns  [K, B, T, P], column 0 the readings
    begins   [B, P] ascending: point from which a column may differ from zero; None: from the first
    before   [B] point up to which the second answer runs, over the first `early_n` columns; None: no reading
    met      columns from this on meet those before it and themselves alone, their other products are 0; None: all meet
    returns  sums over all readings, and over those before
    """
    from gramrise.estimate.compiled import summed_products

    first = np.zeros((columns.shape[1], columns.shape[3]), dtype=np.int64) if begins is None else begins
    until = np.zeros(columns.shape[1], dtype=np.int64) if before is None else before
    products, log_variances, early, early_log_variances = summed_products(
        space.transition, space.noise, space.seen, space.reading_variance, space.start_mean, space.start_covariance,
        steps, present, extra_variance, np.ascontiguousarray(columns), first, until, early_n,
        columns.shape[3] if met is None else met,
    )  # fmt: skip
    early_present = present & (np.arange(present.shape[1])[None, :] < until[:, None])
    return (
        Regression(products.transpose(2, 3, 0, 1), log_variances, present.sum(axis=1)),
        Regression(early.transpose(2, 3, 0, 1), early_log_variances, early_present.sum(axis=1)),
    )


def smooth_level(
    space: StateSpace, steps: Whole, present: Flags, extra_variance: Array, columns: Array, level: int
) -> tuple[Array, Array]:
    """One state given all readings, by the first candidate: means of every column [B, T, P] and variances [B, T].

    steps, present, extra_variance  [B, T]; columns [B, T, P], column 0 the readings
    level  number of the state
    """
    from gramrise.estimate.compiled import smoothed_level

    means, variances = smoothed_level(
        space.transition[0], space.noise[0], space.seen, float(space.reading_variance[0]), space.start_mean[0],
        space.start_covariance[0], steps, present, extra_variance, columns, level,
    )  # fmt: skip
    return means, variances


def forecast_level(
    space: StateSpace, steps: Whole, present: Flags, columns: Array, points: Whole, ahead: Whole, level: int
) -> tuple[Array, Array]:
    """One state forecast from the first readings: means of every column [K, B, A, P] and variances [K, B, A].

    steps, present  [B, T]; columns [K, B, T, P], column 0 the readings
    points          [B] how many of the T points the forecast may look at
    ahead           [B, A] units of time beyond the last of them, ascending
    level           number of the state
    """
    from gramrise.estimate import compiled

    means, variances = compiled.forecast_level(
        space.transition, space.noise, space.seen, space.reading_variance, space.start_mean, space.start_covariance,
        steps, present, np.ascontiguousarray(columns), points, ahead, level,
    )  # fmt: skip
    return means, variances
