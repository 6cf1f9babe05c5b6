"""Systematic uncertainty, which more treatments cannot remove, and the 90 % interval that holds it."""

from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.estimate.settings import DoubtSettings

Floats = NDArray[np.float64]

# 0.95 quantile of the standard normal distribution.
Z_95: Final = 1.6448536269514722


def insulin_is_logged(used: pl.DataFrame, settings: DoubtSettings) -> bool:
    """Whether rapid insulin is known for enough of the used treatments (PAIRINGS); False where none is used."""
    if used.height == 0:
        return False
    known = used["insulin_on_board_units"].is_not_null().sum()
    return bool(known >= settings.insulin_logged_part * used.height)


def systematic_sd_log(insulin_logged: bool, settings: DoubtSettings) -> float:
    """The uncertainty of the untreated path that does not average out, sd of log."""
    return settings.lasting_sd_log_insulin_logged if insulin_logged else settings.lasting_sd_log_insulin_not_logged


def total_sd_log(level_sd_log: Floats, lasting: Floats) -> Floats:
    """Uncertainty of the level and systematic uncertainty together, sd of log."""
    return np.asarray(np.sqrt(level_sd_log**2 + lasting**2))


def interval_90(median: Floats, sd_log: Floats) -> tuple[Floats, Floats]:
    """Ends of the 90 % interval of a log-normal quantity."""
    reach = np.exp(Z_95 * sd_log)
    return median / reach, median * reach
