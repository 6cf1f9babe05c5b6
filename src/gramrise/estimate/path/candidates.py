"""The grid of candidate parameter sets about the shipped ones.

How fast a rise decays and how fast the path returns to its resting level differ from person to person, and one
treatment cannot tell them. A small grid spans the plausible range; `treatment.candidate_posterior` weighs it by the
person's own treatments. Nothing is optimised at night.
"""

from dataclasses import replace
from itertools import product

import numpy as np

from gramrise.estimate.array_types import Array
from gramrise.estimate.path.parameters import PathParameters
from gramrise.estimate.path_settings import PathMultipliers, PathSettings


def shipped_parameters(settings: PathSettings) -> PathParameters:
    """The parameters the package ships."""
    return PathParameters.from_json(settings.default)


def candidates_of(settings: PathSettings) -> tuple[PathParameters, ...]:
    """The grid of candidates about the shipped parameters."""
    middle, grid = shipped_parameters(settings), settings.grid
    shapes = list(zip(grid.disposal, grid.gut, strict=True))
    return tuple(_moved(middle, *at) for at in product(grid.path, shapes, grid.gut_times))


def log_prior_of(settings: PathSettings) -> Array:
    """[K] log prior weights of `candidates_of`; all shapes of one path weigh the same."""
    grid = settings.grid
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
