"""Learning path and shape jointly from treated windows and untreated stretches, the factor integrated out.

Untreated stretches alone are the gentle ones: they recover by themselves and predict recovery where insulin is still
pulling. Treated windows know better, because their tails say what insulin was doing; but there the rise must be taken
off, so both are learned in one marginal likelihood, with the factor's prior at the starting table.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import polars as pl
from scipy.optimize import minimize
from scipy.special import logsumexp

from gramrise.domain.findings import Inputs
from gramrise.estimate.filter import Array
from gramrise.estimate.model import Model
from gramrise.estimate.parameters import PathParameters
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.priors import shift_log_weights, table_prior
from gramrise.estimate.stretches import untreated_stretches
from gramrise.estimate.treatment import factor_likelihood
from gramrise.estimate.windows import Windows, joined, laid_out, usable

# Steps for the numerical gradient on the log scale: our choice.
GRADIENT_STEP: Final = 1e-3


def learn(
    people: Sequence[tuple[Inputs, pl.DataFrame]],
    settings: PathSettings,
    start: PathParameters,
    prior_sd: Array,
    most_windows: int = 1200,
) -> PathParameters:
    """Parameters at the maximum of the joint marginal likelihood times a Gaussian prior about `start`.

    people    inputs and their SCREENED frame (weight_kg f64 beside it), one pair a person
    prior_sd  sd of each number of `start.vector()`
    """
    treated, quiet = learning_windows(people, settings, most_windows)
    middle = start.vector()

    def climb(at: Array) -> tuple[float, Array]:
        steps = np.vstack([np.zeros(at.size), np.eye(at.size) * GRADIENT_STEP])
        points = [start.moved_to(at + step) for step in steps]
        value = joint_log_density(points, treated, quiet, settings)
        value -= 0.5 * (((at + steps - middle) / prior_sd) ** 2).sum(axis=1)
        return -value[0], -(value[1:] - value[0]) / GRADIENT_STEP

    found = minimize(climb, middle, jac=True, method="L-BFGS-B", options={"maxiter": 40, "ftol": 1e-7})
    counted = {"treated": treated.row.size, "untreated": quiet.row.size}
    return replace(start.moved_to(found.x), learned_from=counted)


def learning_windows(
    people: Sequence[tuple[Inputs, pl.DataFrame]], settings: PathSettings, most: int
) -> tuple[Windows, Windows]:
    """Treated windows and untreated stretches of a pool, thinned evenly to at most `most` of each."""
    treated, quiet = [], []
    for person, (inputs, screened) in enumerate(people):
        used = screened.filter(pl.col("verdict") == "used")
        if used.height:
            treated.append(usable(laid_out(inputs, used, settings, person), settings))
        stretches = untreated_stretches(inputs, settings)
        if stretches.height:
            quiet.append(usable(laid_out(inputs, stretches, settings, person).without_doses(), settings))
    return joined(treated).thinned(most), joined(quiet).thinned(most)


def joint_log_density(points: list[PathParameters], treated: Windows, quiet: Windows, settings: PathSettings) -> Array:
    """[K] log marginal density of both kinds of windows under each candidate."""
    model = Model.of(points)
    total = np.zeros(len(points))
    if treated.row.size:
        total += window_log_density(model, treated, settings).sum(axis=1)
    if quiet.row.size:
        total += factor_likelihood(model, quiet, settings, shifts=()).log_height_alone.sum(axis=1)
    return total


def window_log_density(model: Model, windows: Windows, settings: PathSettings) -> Array:
    """[K, B] log density of treated windows, factor and dose-time shift integrated out."""
    found = factor_likelihood(model, windows, settings, settings.dose_shift_min)
    mean, variance = table_prior(windows)
    _, _, density = found.with_prior(mean, variance)
    return np.asarray(logsumexp(density + shift_log_weights(settings)[:, None, None], axis=0))
