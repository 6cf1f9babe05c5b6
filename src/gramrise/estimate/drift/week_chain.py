"""The chain of weeks of one band: what the level may have been in each week, given all of its treatments.

Weeks are counted from the reference: week 0 ends on its day, week 1 holds the seven days after it. Every sum is exact
on the axis; nothing is sampled or linearised. `likelihood` [scatters, weeks, cells] is scaled so that the largest cell
of each scatter and week is 1; `log_scale` [scatters] holds what was taken out.
"""

from dataclasses import dataclass

import numpy as np

from gramrise.estimate.array_types import Array
from gramrise.estimate.drift.level_axis import DriftModel

LEAST = 1e-290


@dataclass(frozen=True, slots=True)
class WeekLikelihood:
    """Of one band; `first_week` is that of index 0."""

    first_week: int
    likelihood: Array  # [scatters, weeks, cells]
    log_scale: Array  # [scatters]


@dataclass(frozen=True, slots=True)
class Chain:
    """Messages of one band.

    before        [scatters, weeks, cells] level of a week given the treatments up to it, sums to 1
    after         [scatters, weeks, cells] how well it explains the later ones, up to a constant
    log_evidence  [scatters]
    jump_odds     [scatters, weeks] how much better a jump into a week explains the data than none, all else alike
    """

    before: Array
    after: Array
    log_evidence: Array
    jump_odds: Array


def chain_of(weeks: WeekLikelihood, hazard: Array, model: DriftModel) -> Chain:
    """hazard [weeks] probability of a jump into each week; that into the first counts for nothing."""
    seen = weeks.likelihood
    before, log_evidence = _forward(seen, hazard, model)
    after = _backward(seen, hazard, model)
    explained = seen[:, 1:] * after[:, 1:]
    stayed = np.einsum("swc,swc->sw", before[:, :-1] @ model.walk, explained)
    jumped = np.einsum("swc,swc->sw", before[:, :-1] @ model.jump, explained)
    odds = np.ones(seen.shape[:2])
    odds[:, 1:] = jumped / np.maximum(stayed, LEAST)
    return Chain(before, after, log_evidence + weeks.log_scale, odds)


def _moved(level: Array, hazard: float, model: DriftModel) -> Array:
    return np.asarray((1.0 - hazard) * (level @ model.walk) + hazard * (level @ model.jump))


def _forward(seen: Array, hazard: Array, model: DriftModel) -> tuple[Array, Array]:
    before, log_evidence = np.empty_like(seen), np.zeros(len(seen))
    level = np.broadcast_to(model.prior, seen[:, 0].shape)
    for week in range(seen.shape[1]):
        level = (level if week == 0 else _moved(level, hazard[week], model)) * seen[:, week]
        total = np.maximum(level.sum(axis=1), LEAST)
        level = level / total[:, None]
        log_evidence += np.log(total)
        before[:, week] = level
    return before, log_evidence


def _backward(seen: Array, hazard: Array, model: DriftModel) -> Array:
    after = np.ones_like(seen)
    for week in range(seen.shape[1] - 2, -1, -1):
        level = seen[:, week + 1] * after[:, week + 1]
        # Walk and jump are nearly symmetric, but at the axis's ends their rows are what sums to 1.
        h = hazard[week + 1]
        level = (1.0 - h) * (level @ model.walk.T) + h * (level @ model.jump.T)
        after[:, week] = level / np.maximum(level.max(axis=1, keepdims=True), LEAST)
    return after


def level_at_reference(weeks: WeekLikelihood, hazard: Array, model: DriftModel) -> Array:
    """The level in week 0 given the treatments up to it, by another hazard; [scatters, cells]."""
    until = 1 - weeks.first_week
    return _forward(weeks.likelihood[:, :until], hazard[:until], model)[0][:, -1]


def jump_probabilities(chain: Chain, hazard: Array, scatter_weight: Array) -> Array:
    """Probability of a jump into each week, [weeks]; of the first 0."""
    odds = hazard * chain.jump_odds
    found = scatter_weight @ (odds / (1.0 - hazard + odds))
    found[0] = 0.0
    return np.asarray(found)


def joint_with_now(
    weeks: WeekLikelihood, chain: Chain, hazard: Array, scatter_weight: Array, model: DriftModel
) -> Array:
    """Joint probability of the level in week 0 (rows) and in the last week (columns), sums to 1; [cells, cells].

    Cells on which nothing lies in any week are left out of the products: they decide the time this takes.
    """
    at = -weeks.first_week
    possible = (chain.before * chain.after)[:, at:]
    possible = possible / np.maximum(possible.sum(axis=2, keepdims=True), LEAST)
    held = np.flatnonzero(possible.max(axis=(0, 1)) > LEAST_MASS)
    cells = slice(int(held[0]), int(held[-1]) + 1)
    walk, jump = model.walk[cells, cells], model.jump[cells, cells]
    joint = np.zeros((len(model.axis), len(model.axis)))
    for scatter, weight in enumerate(scatter_weight):
        part = np.diag(chain.before[scatter, at, cells])
        for week in range(at + 1, weeks.likelihood.shape[1]):
            part = part @ ((1.0 - hazard[week]) * walk + hazard[week] * jump)
            part = part * weeks.likelihood[scatter, week, cells]
            part /= max(float(part.sum()), LEAST)
        joint[cells, cells] += weight * part / max(float(part.sum()), LEAST)
    return np.asarray(joint / joint.sum())


# Our choice: together such cells hold less than a thousandth.
LEAST_MASS = 1e-6
