"""Candidate parameter sets about the learned or shipped one: each person's readings weigh them, nothing is optimised."""

from dataclasses import dataclass

import numpy as np

from gramrise.estimate.filter import Array
from gramrise.estimate.parameters import PathParameters
from gramrise.estimate.path_settings import PathSettings


@dataclass(frozen=True, slots=True)
class Candidates:
    """Parameter sets and their log weights before a person's readings are seen; the first is the middle."""

    parameters: tuple[PathParameters, ...]
    log_weights: Array

    @property
    def middle(self) -> PathParameters:
        return self.parameters[0]


def shipped_parameters(settings: PathSettings) -> PathParameters:
    """The parameters the package ships."""
    return PathParameters.from_json(settings.default)


def candidates_of(learned: PathParameters | None, settings: PathSettings) -> Candidates:
    """The candidates about `learned`, or about the shipped parameters."""
    middle = shipped_parameters(settings) if learned is None else learned
    return Candidates((middle,), np.zeros(1))
