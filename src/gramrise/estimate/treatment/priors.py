"""Priors of one treatment: of its factor and of the error of its logged time."""

from typing import Final, Protocol

import numpy as np

from gramrise.domain.starting import BAND_SD_LOG, EVENT_SD_LOG, PERSON_SD_LOG, TAUGHT
from gramrise.estimate.array_types import Array, Flags
from gramrise.estimate.path import WEIGHT_UNKNOWN_KG
from gramrise.estimate.path_settings import PathSettings

# Spread of one treatment's factor about the table, as a share of it: person, band and treatment together.
FACTOR_PRIOR_CV: Final = float(np.sqrt(np.expm1(PERSON_SD_LOG**2 + BAND_SD_LOG**2 + EVENT_SD_LOG**2)))
# Spread of one person's treatments about the person's level, as a share of it: bands and treatments together.
OWN_CV: Final = float(np.sqrt(np.expm1(BAND_SD_LOG**2 + EVENT_SD_LOG**2)))
# Our choice: even a person whose treatments seem to do nothing gets a prior that allows for a rise.
LOWEST_SHARE: Final = 0.25


class HasBodyWeights(Protocol):
    """Windows, or only the body weights of their days."""

    @property
    def weight_kg(self) -> Array:
        """[B]; nan where unknown"""
        ...


def table_prior(windows: HasBodyWeights) -> tuple[Array, Array]:
    """Prior mean and variance of each window's factor, [B] mg/dL per g."""
    weight = np.where(np.isnan(windows.weight_kg), WEIGHT_UNKNOWN_KG, windows.weight_kg)
    mean = np.asarray(TAUGHT.k_mg_dl_kg_per_g / weight)
    return mean, (FACTOR_PRIOR_CV * mean) ** 2


def levelled_prior(windows: HasBodyWeights, factor: Array, variance: Array, used: Flags) -> tuple[Array, Array]:
    """The prior moved to the person's own level, as a first pass over their used treatments finds it.

    Precision-weighted mean of the weight-adjusted factors, the table counting as one treatment; never below
    `LOWEST_SHARE` of the table.
    """
    table, wide = table_prior(windows)
    ratio, doubt = factor / table, variance / table**2
    weight = np.where(used, 1.0 / (doubt + OWN_CV**2), 0.0)
    level = (1.0 / FACTOR_PRIOR_CV**2 + (weight * ratio).sum()) / (1.0 / FACTOR_PRIOR_CV**2 + weight.sum())
    share = max(level, LOWEST_SHARE)
    return share * table, share**2 * wide


def shift_log_weights(settings: PathSettings, at_min: tuple[int, ...] | None = None) -> Array:
    """[S] log prior weights of dose-time shifts (None: all that are tried): most times are near, a few far off."""
    shifts = np.array(settings.dose_shift_min if at_min is None else at_min, dtype=float)
    near, far = settings.dose_shift_sd_min, settings.dose_shift_far_sd_min
    share = settings.dose_shift_far_share
    weights = (1 - share) / near * np.exp(-0.5 * (shifts / near) ** 2)
    weights += share / far * np.exp(-0.5 * (shifts / far) ** 2)
    return np.asarray(np.log(weights / weights.sum()))
