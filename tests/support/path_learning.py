"""Learning path and shape from a pool: treated windows and untreated stretches in one marginal likelihood.

Every window counts by the density of its readings after its moment given those before: how moments come to be chosen
(they are falls) then says nothing. Untreated stretches run up to the first thing eaten, also where they end in a
treatment: kept whole only where nothing followed they would be the gentle ones, that recover by themselves. In treated
windows the factor is integrated out with the starting table's prior, the dose times with theirs. Each window is calm
or, one in several, wild (a meal nobody wrote down); the calm path is what is learned.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import polars as pl
from scipy.optimize import minimize

from gramrise.domain.findings import Inputs
from gramrise.domain.reasons import Verdict
from gramrise.estimate.array_types import Array
from gramrise.estimate.path.candidate_model import CandidateModel
from gramrise.estimate.path.candidates import shipped_parameters
from gramrise.estimate.path.parameters import LEARNED, PathParameters
from gramrise.estimate.path.untreated_stretches import untreated_stretches
from gramrise.estimate.path.windows import TreatmentWindows, joined, laid_out, usable
from gramrise.estimate.path_settings import LearningSettings, PathSettings
from gramrise.estimate.treatment.candidate_posterior import window_density
from gramrise.estimate.treatment.likelihood import factor_likelihood

# Step of the numerical gradient on the scale of the prior's sd: small against it, large against rounding.
GRADIENT_STEP: Final = 1e-3
MOST_ITERATIONS: Final = 30


def learn(
    people: Sequence[tuple[Inputs, pl.DataFrame]], settings: PathSettings, start: PathParameters | None = None
) -> PathParameters:
    """Parameters at the maximum of the joint marginal likelihood times a Gaussian prior about `start`.

    people    inputs and their SCREENED frame (weight_kg f64 beside it), one pair a person
    start     where the prior is centred; None: the shipped parameters
    returns   `start` itself where there is nothing to learn from
    """
    centre = shipped_parameters(settings) if start is None else start
    treated, untreated = learning_windows(people, settings)
    if treated is None and untreated is None:
        return centre
    names = [name for name in LEARNED if name in settings.learning.sd]
    where = np.array([LEARNED.index(name) for name in names])
    sd = np.array([settings.learning.sd[name] for name in names])
    middle = centre.vector()

    def climb(scaled: Array) -> tuple[float, Array]:
        steps = np.vstack([np.zeros(scaled.size), np.eye(scaled.size) * GRADIENT_STEP])
        at = np.tile(middle, (steps.shape[0], 1))
        at[:, where] += (scaled + steps) * sd
        value = joint_log_density([centre.moved_to(point) for point in at], treated, untreated, settings)
        value = value - 0.5 * ((scaled + steps) ** 2).sum(axis=1)
        return -float(value[0]), -(value[1:] - value[0]) / GRADIENT_STEP

    found = minimize(
        climb, np.zeros(where.size), jac=True, method="L-BFGS-B", options={"maxiter": MOST_ITERATIONS, "ftol": 1e-7}
    )
    best = middle.copy()
    best[where] += found.x * sd
    counted = {
        "treated": 0 if treated is None else treated.row.size,
        "untreated": 0 if untreated is None else untreated.row.size,
    }
    return replace(centre.moved_to(best), learned_from=counted)


def learning_windows(
    people: Sequence[tuple[Inputs, pl.DataFrame]], settings: PathSettings
) -> tuple[TreatmentWindows | None, TreatmentWindows | None]:
    """Treated windows and untreated stretches of a pool, thinned evenly; None where there is none of a kind."""
    treated, untreated = [], []
    for person, (inputs, screened) in enumerate(people):
        used = screened.filter(pl.col("verdict") == Verdict.USED)
        if used.height:
            treated.append(usable(laid_out(inputs, used, settings, person), settings))
        stretches = untreated_stretches(inputs, settings)
        if stretches.height:
            untreated.append(laid_out(inputs, stretches, settings, person).without_doses())
    most = settings.learning.most_windows
    return _pooled(treated, most), _pooled(untreated, most)


def _pooled(parts: list[TreatmentWindows], most: int) -> TreatmentWindows | None:
    kept = [part for part in parts if part.row.size]
    return joined(kept).thinned(most) if kept else None


def joint_log_density(
    points: Sequence[PathParameters],
    treated: TreatmentWindows | None,
    untreated: TreatmentWindows | None,
    settings: PathSettings,
) -> Array:
    """[K] log density of all windows after their moment given before it, under each candidate."""
    learning = settings.learning
    model = CandidateModel.of([wild for point in points for wild in (point, _wild(point, learning))])
    shares = np.log([1 - learning.wild_share, learning.wild_share])[:, None]
    total = np.zeros(len(points))
    for windows, shifts in ((treated, settings.score_shift_min), (untreated, ())):
        if windows is None:
            continue
        found = factor_likelihood(model, windows, settings, shifts)
        density = window_density(found, windows, settings, shifts) if shifts else found.log_height_alone
        by_kind = (each.reshape(len(points), 2, -1) + shares for each in (density, found.log_height_before))
        after, given = (np.logaddexp(kinds[:, 0], kinds[:, 1]) for kinds in by_kind)
        total += (after - given).sum(axis=1)
    return total


def _wild(point: PathParameters, learning: LearningSettings) -> PathParameters:
    path = point.path
    times = learning.wild_times
    return replace(point, path=replace(path, drive_sd=path.drive_sd * times, slope_sd=path.slope_sd * times))
