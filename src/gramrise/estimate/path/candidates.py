"""Candidate parameter sets about a middle one: each person's own treatments weigh them, nothing is optimised at night.

How fast a rise decays and how the path is drawn back differ from person to person and cannot be told from one
treatment. A small grid spans the plausible range; the weights are the posterior over it. Each treatment counts by the
density of its readings after the glucose given those before, so that how treatments came to be chosen (they are the
moments that fell) does not lean on the path; it can speak against a candidate only so far, so that one meal nobody
wrote down decides nothing; and of the sum only a part counts, since no candidate is right and treatments err alike.
"""

from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from scipy.special import logsumexp

from gramrise.estimate.array_types import Array, Flags
from gramrise.estimate.path.parameters import PathParameters
from gramrise.estimate.path_settings import PathMultipliers, PathSettings


def shipped_parameters(settings: PathSettings) -> PathParameters:
    """The parameters the package ships."""
    return PathParameters.from_json(settings.default)


def candidates_of(learned: PathParameters | None, settings: PathSettings) -> tuple[PathParameters, ...]:
    """The grid about `learned` where a pool has spoken, else the wider one about the shipped parameters."""
    middle = shipped_parameters(settings) if learned is None else learned
    grid = settings.grid_shipped if learned is None else settings.grid_learned
    shapes = list(zip(grid.disposal, grid.gut, strict=True))
    return tuple(_moved(middle, *at) for at in product(grid.path, shapes, grid.gut_times))


def log_prior_of(learned: PathParameters | None, settings: PathSettings) -> Array:
    """[K] log weights of `candidates_of` before anything is known of a person; shapes of one path are alike."""
    grid = settings.grid_shipped if learned is None else settings.grid_learned
    of_path = np.array([path.prior for path in grid.path])
    return np.repeat(np.log(of_path / of_path.sum()), len(grid.disposal) * len(grid.gut_times))


def _moved(
    middle: PathParameters, spread: PathMultipliers, shape: tuple[float, float], gut_times: float
) -> PathParameters:
    disposal, gut = shape
    path = middle.path
    return replace(
        middle,
        path=replace(
            path,
            pull_per_min=path.pull_per_min * spread.pull_times,
            lasting_min=path.lasting_min * spread.lasting_times,
            bend_min=path.bend_min * spread.bend_times,
            drive_sd=path.drive_sd * spread.drive_times,
        ),
        gut_min={form: minutes * gut * gut_times for form, minutes in middle.gut_min.items()},
        disposal_per_min=middle.disposal_per_min * disposal,
    )


@dataclass(frozen=True, slots=True)
class CandidateScores:
    """What each treatment says of each candidate: log density against the best one, at least -`most`; [K, B]."""

    log_scores: Array
    power: float  # how much of their sum counts: treatments of one person err alike

    def weights(self, used: Flags, untreated_log_weights: Array) -> Array:
        """[K] posterior weights given the used treatments; `leaning`: log weights before any is asked, [K]."""
        total = untreated_log_weights + self.power * self.log_scores[:, used].sum(axis=1)
        return np.asarray(np.exp(total - logsumexp(total)))


def candidate_scores(density: Array, before: Array, settings: PathSettings) -> CandidateScores:
    """Scores from the log density of whole windows ([K, B]) and that of their readings up to the first dose."""
    given = density - before
    return CandidateScores(np.maximum(given - given.max(axis=0), -settings.most_against), settings.evidence_power)
