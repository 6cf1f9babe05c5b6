"""Readings below the sensor's range enter as bounds: each becomes a Gaussian site by moment matching."""

from dataclasses import dataclass

import numpy as np

from gramrise.estimate.array_types import Array, Flags, Whole
from gramrise.estimate.path.windows import TreatmentWindows


@dataclass(frozen=True, slots=True)
class Readings:
    """Readings as the filter takes them: values, noise beyond the sensor's, and which points hold a reading."""

    values: Array  # [B, T]
    extra_variance: Array  # [B, T]
    present: Flags  # [B, T]

    @classmethod
    def plain(cls, windows: TreatmentWindows) -> "Readings":
        return cls(windows.values, np.zeros(windows.values.shape), windows.present)

    def chosen(self, rows: Flags | Whole) -> "Readings":
        return Readings(self.values[rows], self.extra_variance[rows], self.present[rows])


def with_bounds(plain: Readings, below: Flags, mean: Array, variance: Array, reading_variance: float) -> Readings:
    """Replace each reading below range by the site that turns the predicted distribution into its part under the bound.

    mean, variance  [B, T] of the true shown level there, from all other readings
    source          moments of a truncated normal; one pass of expectation propagation (Minka 2001)
    """
    from scipy.special import log_ndtr

    sd = np.sqrt(variance + reading_variance)
    edge = (plain.values - mean) / sd
    # hazard = pdf / cdf at the edge, safe far in the tail
    hazard = np.exp(-0.5 * edge**2 - 0.5 * np.log(2 * np.pi) - log_ndtr(edge))
    shrink = np.clip(hazard * (edge + hazard), 1e-6, 1 - 1e-6)
    cut_mean, cut_variance = mean - sd * hazard, sd**2 * (1 - shrink)
    site_variance = 1 / (1 / cut_variance - 1 / sd**2)
    site_mean = site_variance * (cut_mean / cut_variance - mean / sd**2)
    # A bound far above the prediction says nothing, so it is left out.
    tells = below & (shrink > 0.02)
    return Readings(
        np.where(tells, site_mean, plain.values),
        np.where(tells, site_variance, plain.extra_variance),
        plain.present | tells,
    )
