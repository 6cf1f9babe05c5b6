"""Chains of weeks for the tests of drift: a small axis on which every path can be summed by hand."""

from itertools import product

import numpy as np

from gramrise.estimate import shipped_settings
from gramrise.estimate.drift.level_axis import DriftModel, drift_model
from gramrise.estimate.drift.week_chain import WeekLikelihood


def shipped_model(**changed):
    settings = shipped_settings()
    return drift_model(settings.drift.model_copy(update=changed), settings.levels)


def small_model(rng):
    """Three cells, two scatters; transitions and prior drawn."""

    def rows(*shape):
        drawn = rng.uniform(0.1, 1.0, shape)
        return drawn / drawn.sum(axis=-1, keepdims=True)

    settings = shipped_settings().drift
    return DriftModel(
        settings, np.array([-0.1, 0.0, 0.1]), rows(3), rows(3, 3), rows(3, 3), np.log(rows(2)), np.zeros((2, 3, 1))
    )


def every_path(likelihood, hazard, model):
    """Sums over all paths of one scatter: evidence, joint of `at` and last by (first, last) cell, jumps by week.

    likelihood  [weeks, cells]
    returns     (evidence, {(path): mass summed over jumps}, [weeks] mass of paths with a jump into each week)
    """
    weeks, cells = likelihood.shape
    whole, by_path, jumped = 0.0, {}, np.zeros(weeks)
    for path in product(range(cells), repeat=weeks):
        for jumps in product((False, True), repeat=weeks - 1):
            mass = model.prior[path[0]] * likelihood[0, path[0]]
            for week, jump in enumerate(jumps, start=1):
                step = (model.jump if jump else model.walk)[path[week - 1], path[week]]
                mass *= (hazard[week] if jump else 1.0 - hazard[week]) * step * likelihood[week, path[week]]
            whole += mass
            by_path[path] = by_path.get(path, 0.0) + mass
            jumped[1:] += mass * np.array(jumps)
    return whole, by_path, jumped


def normal_weeks(values, sd, model, first_week=0):
    """The likelihood of one value a week with normal noise, in logs; NaN: a week without one."""
    logs = -0.5 * ((np.asarray(values, dtype=float)[:, None] - model.axis) / sd) ** 2
    logs = np.where(np.isnan(logs), 0.0, logs)
    top = logs.max(axis=1, keepdims=True)
    scatters = len(model.scatter_log_weight)
    likelihood = np.repeat(np.exp(logs - top)[None], scatters, axis=0)
    return WeekLikelihood(first_week, likelihood, np.full(scatters, top.sum()))
