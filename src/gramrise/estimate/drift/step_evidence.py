"""The evidence of a step since the reference: how much better one explains the treatments than no change at all.

It is what a weekly reading goes by. While nothing changes, such evidence grows only by chance, and the chance that it
ever reaches k, however often one looks, is about 1 in k (Ville 1939); the probability of a change has no such bound.
That holds because the weight of a step into a week is fixed before the week comes; weights spread anew over the weeks
so far would let the first weeks count the more the fewer they are, and raise alarms there.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gramrise.estimate.array_types import Array, log_sum_exp
from gramrise.estimate.drift.level_axis import DriftModel
from gramrise.estimate.drift.week_chain import LEAST

# Evidence is cut here, in logs: more than anybody could ask for, and no overflow.
MOST_LOG = 200.0


@dataclass(frozen=True, slots=True)
class Evidence:
    """Of a person: log of the evidence that some band changed, and each band's share in it.

    band_log_evidence  [bands] of each band by itself
    """

    log_evidence: float
    band_log_evidence: Array
    band_share: Array  # [bands] probability that it is this band, given that one or all changed


def log_odds_of_steps(level: Array, since: Array, model: DriftModel) -> Array:
    """Log of how much better a step into each week explains the weeks since the reference than none.

    level    [scatters, cells] at the reference, given what came before
    since    [scatters, weeks, cells] likelihood of each week after it, weeks > 0
    returns  [scatters, weeks]
    """
    logs = np.log(np.maximum(since, LEAST))
    until = np.concatenate([np.zeros_like(logs[:, :1]), np.cumsum(logs, axis=1)], axis=1)
    whole = until[:, -1:]
    later = whole - until[:, :-1]
    top_until, top_later = until[:, :-1].max(axis=2, keepdims=True), later.max(axis=2, keepdims=True)
    start = level[:, None, :] * np.exp(until[:, :-1] - top_until)
    explained = np.einsum("swc,swc->sw", start @ model.jump, np.exp(later - top_later))
    step = np.log(np.maximum(explained, LEAST)) + (top_until + top_later)[:, :, 0]
    return np.asarray(step - log_evidence_of_none(level, logs)[:, None])


def log_evidence_of_none(level: Array, logs: Array) -> Array:
    """[scatters] log evidence of the weeks since the reference where the level stays what it was."""
    whole = logs.sum(axis=1)
    top = whole.max(axis=1)
    return np.asarray(np.log(np.maximum((level * np.exp(whole - top[:, None])).sum(axis=1), LEAST)) + top)


def evidence_of_change(log_odds: Sequence[Array], scatter_weight: Array, week_weight: Array) -> Evidence:
    """The evidence that one of the bands changed, or all in the same week; both are held equally probable beforehand.

    log_odds        of each band, [scatters, weeks]
    scatter_weight  [scatters], sums to 1
    week_weight     [weeks] how probable the first step into each week is beforehand, sums to 1 or less; the rest is the
                    probability that none has come yet
    """
    told = float(week_weight.sum())
    weigh = np.log(scatter_weight)[:, None] + np.log(week_weight / told)[None, :]
    alone = np.array([_summed(weigh + odds) for odds in log_odds])
    together = _summed(weigh + np.sum(log_odds, axis=0))
    parts = np.append(alone - np.log(2.0 * len(alone)), together - np.log(2.0))
    changed = _summed(parts)
    share = np.exp(parts - changed)
    whole = np.logaddexp(np.log(told) + changed, np.log(max(1.0 - told, LEAST)))
    return Evidence(float(whole), alone, np.asarray(share[:-1] + share[-1]))


def first_step_weights(expected: Array) -> Array:
    """[weeks] probability that the first step comes in each week.

    expected  [weeks] steps expected in each; a week's own, whatever comes after it
    """
    none = np.exp(-np.concatenate([[0.0], np.cumsum(expected)]))
    return np.asarray(none[:-1] - none[1:])


def _summed(logs: Array) -> float:
    return float(log_sum_exp(np.clip(logs, -MOST_LOG, MOST_LOG)))
