"""Doubt that more treatments cannot remove, doubt that a reason adds, and the 90 % interval that carries both."""

from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.reasons import REASONS, Effect
from gramrise.estimate.settings import DoubtSettings

Floats = NDArray[np.float64]

# 0.95 quantile of the standard normal distribution.
Z_95: Final = 1.6448536269514722

# Reasons that widen but are dealt with elsewhere: a change of delivery gives the levels a fresh start, and insulin that
# is logged pulls on the untreated path as a covariate, its own doubt in the treatment's variance.
_FRESH_START: Final = "delivery_changed"
_INSULIN: Final = "insulin_near"


def insulin_is_logged(used: pl.DataFrame, settings: DoubtSettings) -> bool:
    """Whether rapid insulin is known for enough of the used treatments (PAIRINGS); False where none is used."""
    if used.height == 0:
        return False
    known = used["insulin_on_board_units"].is_not_null().sum()
    return bool(known >= settings.insulin_logged_part * used.height)


def systematic_sd_log(insulin_logged: bool, settings: DoubtSettings) -> float:
    """The doubt of the untreated path that does not average out, sd of log."""
    return settings.lasting_sd_log_insulin_logged if insulin_logged else settings.lasting_sd_log_insulin_not_logged


def widening_reasons(reasons: pl.Series, insulin_known: pl.Series) -> Floats:
    """How many reasons widen each treatment's own variance.

    reasons        List[str], codes of domain.reasons
    insulin_known  bool, rapid insulin is logged around it
    returns        [treatments]
    """
    counted = []
    for codes, known in zip(reasons.to_list(), insulin_known.to_list(), strict=True):
        passed_over = {_FRESH_START, _INSULIN} if known else {_FRESH_START}
        counted.append(sum(REASONS[code].effect is Effect.WIDEN and code not in passed_over for code in codes or ()))
    return np.array(counted, dtype=float)


def total_sd_log(level_sd_log: Floats, lasting: Floats) -> Floats:
    """Level and lasting doubt together, sd of log."""
    return np.asarray(np.sqrt(level_sd_log**2 + lasting**2))


def interval_90(median: Floats, sd_log: Floats) -> tuple[Floats, Floats]:
    """Ends of the 90 % interval of a log-normal quantity."""
    reach = np.exp(Z_95 * sd_log)
    return median / reach, median * reach
