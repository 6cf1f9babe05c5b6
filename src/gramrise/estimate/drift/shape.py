"""Step or slope: how well each explains the weeks since the reference, with everything else alike."""

import numpy as np

from gramrise.domain.drift import Shape
from gramrise.estimate.array_types import Array
from gramrise.estimate.drift.level_axis import DriftModel
from gramrise.estimate.drift.week_chain import LEAST

# Whole changes of a slope since the reference, in sds of a jump's size; our choice, beyond them nothing is expected.
SLOPES = np.array([-2.0, -1.6, -1.2, -0.9, -0.6, -0.3, 0.3, 0.6, 0.9, 1.2, 1.6, 2.0])


def log_odds_of_step(level: Array, since: Array, scatter_weight: Array, model: DriftModel) -> float:
    """Log of how much better one step explains the data than a slope of the same expected size.

    level           [scatters, cells] at the reference, given what came before
    since           [scatters, weeks, cells] likelihood of each week after it, weeks > 0
    scatter_weight  [scatters]
    """
    logs = np.log(np.maximum(since, LEAST))
    step, slope = _step_evidence(level, logs, model), _slope_evidence(level, logs, model)
    top = max(step.max(), slope.max())
    both = [float(np.log(max(float(scatter_weight @ np.exp(each - top)), LEAST))) for each in (step, slope)]
    return both[0] - both[1]


def _step_evidence(level: Array, logs: Array, model: DriftModel) -> Array:
    """[scatters] log evidence of one step, alike in every week."""
    until = np.concatenate([np.zeros_like(logs[:, :1]), np.cumsum(logs, axis=1)], axis=1)[:, :-1]
    later = logs.sum(axis=1, keepdims=True) - until
    top_until, top_later = until.max(axis=2, keepdims=True), later.max(axis=2, keepdims=True)
    start = level[:, None, :] * np.exp(until - top_until)
    explained = np.einsum("swc,swc->sw", start @ model.jump, np.exp(later - top_later))
    each = np.log(np.maximum(explained, LEAST)) + (top_until + top_later)[:, :, 0]
    top = each.max(axis=1, keepdims=True)
    return np.asarray(np.log(np.exp(each - top).mean(axis=1)) + top[:, 0])


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
