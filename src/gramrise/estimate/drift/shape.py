"""Step or slope: how well each explains the weeks since the reference, with everything else alike."""

import numpy as np

from gramrise.domain.drift import Shape
from gramrise.estimate.array_types import Array, log_sum_exp
from gramrise.estimate.drift.level_axis import DriftModel
from gramrise.estimate.drift.step_evidence import log_evidence_of_none
from gramrise.estimate.drift.week_chain import LEAST

# Whole changes of a slope since the reference, in sds of a jump's size; our choice, beyond them nothing is expected.
SLOPES = np.array([-2.0, -1.6, -1.2, -0.9, -0.6, -0.3, 0.3, 0.6, 0.9, 1.2, 1.6, 2.0])


def log_odds_of_step_over_slope(
    level: Array, since: Array, step_odds: Array, scatter_weight: Array, model: DriftModel
) -> float:
    """Log of how much better one step explains the data than a slope of the same expected size.

    level           [scatters, cells] at the reference, given what came before
    since           [scatters, weeks, cells] likelihood of each week after it, weeks > 0
    step_odds       [scatters, weeks] log of how much better a step into each week explains them than none
    scatter_weight  [scatters]
    """
    logs = np.log(np.maximum(since, LEAST))
    step = log_sum_exp(step_odds, axis=1) - np.log(logs.shape[1])
    slope = _slope_evidence(level, logs, model) - log_evidence_of_none(level, logs)
    weigh = np.log(scatter_weight)
    return float(log_sum_exp(weigh + step) - log_sum_exp(weigh + slope))


def _slope_evidence(level: Array, logs: Array, model: DriftModel) -> Array:
    """[scatters] log evidence of a constant rate from the reference until now, its whole change as large as a jump."""
    weeks = logs.shape[1]
    share = np.arange(1, weeks + 1) / weeks
    weight = np.exp(-0.5 * SLOPES**2)
    each = np.empty((len(SLOPES), len(logs)))
    for n, change in enumerate(SLOPES * model.settings.jump_sd_log):
        moved = _shifted(logs, change * share / model.settings.axis_step_log).sum(axis=1)
        top = moved.max(axis=1)
        each[n] = np.log(np.maximum((level * np.exp(moved - top[:, None])).sum(axis=1), LEAST)) + top
    top = each.max(axis=0)
    return np.asarray(np.log(weight @ np.exp(each - top) / weight.sum()) + top)


def _shifted(logs: Array, cells: Array) -> Array:
    """Each week's [weeks] log likelihood at levels that lie `cells` further, straight lines between cells."""
    last = logs.shape[2] - 1
    at = np.clip(np.arange(last + 1)[None, :] + cells[:, None], 0.0, last)
    low = np.minimum(at.astype(np.int64), last - 1)
    part = at - low
    week = np.arange(len(cells))[:, None]
    return np.asarray(logs[:, week, low] * (1.0 - part) + logs[:, week, low + 1] * part)


def shape_of(log_odds: float, odds: float) -> Shape:
    """The shape that the data tell, if they do."""
    if abs(log_odds) < np.log(odds):
        return "undecided"
    return "step" if log_odds > 0 else "slope"
