"""The parameters of the untreated path and of the rise in one frozen value."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from gramrise.estimate.path.dynamics import PathDynamics
from gramrise.estimate.path.rise_shape import RiseShape


@dataclass(frozen=True, slots=True)
class PathParameters:
    """Path, shapes by form, dose exponent, and how logged insulin and food act: one candidate."""

    path: PathDynamics
    gut_min: Mapping[str, float]  # by form
    disposal_per_min: float
    lag_min: float
    exponent: float  # rise of one treatment ~ grams ** exponent
    insulin_share: float  # action of logged insulin against `fall_mg_dl_kg_per_unit`, 1: as the setting says
    insulin_share_sd: float
    food_share: float  # rise of logged food against the starting table
    food_share_sd: float
    reads_high_mg_dl: float  # sensor above the level when glucose is taken: people feel what the sensor does not show

    def shape(self, form: str) -> RiseShape:
        return RiseShape(self.gut_min[form], self.disposal_per_min, self.lag_min)

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "PathParameters":
        rest = {name: value for name, value in values.items() if name != "path"}
        return cls(path=PathDynamics(**values["path"]), **rest)
