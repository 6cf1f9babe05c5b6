"""The parameters of points 1-3 of the method in one frozen value: path, shapes, exponent, insulin and food."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Final

import numpy as np

from gramrise.domain.sources import Form
from gramrise.estimate.array_types import Array
from gramrise.estimate.path.dynamics import PathDynamics
from gramrise.estimate.path.rise_shape import RiseShape
from gramrise.estimate.path.windows import FORMS


@dataclass(frozen=True, slots=True)
class PathParameters:
    """Everything that is learned of path and shape; JSON in and out by `to_json` and `from_json`."""

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
    learned_from: Mapping[str, int] = field(default_factory=dict)  # windows by kind; empty: shipped

    def shape(self, form: str) -> RiseShape:
        return RiseShape(self.gut_min[form], self.disposal_per_min, self.lag_min)

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "PathParameters":
        rest = {name: value for name, value in values.items() if name != "path"}
        return cls(path=PathDynamics(**values["path"]), **rest)

    def vector(self) -> Array:
        """The learned numbers on the scale on which they are learned: logs, except those in PLAIN."""
        return np.array([_forward(name, self._value(name)) for name in LEARNED])

    def moved_to(self, vector: Array) -> "PathParameters":
        """The same parameters with the learned numbers replaced."""
        values = {name: _back(name, float(v)) for name, v in zip(LEARNED, vector, strict=True)}
        path = {name: values.pop(name) for name in PATH_NAMES}
        gut = {form.value: values.pop(f"gut_{form.value}") for form in FORMS}
        others: dict[str, Any] = values
        return replace(self, path=PathDynamics(**path), gut_min=gut, **others)

    def _value(self, name: str) -> float:
        if name in PATH_NAMES:
            return float(getattr(self.path, name))
        return float(self.gut_min[name[4:]] if name.startswith("gut_") else getattr(self, name))


PATH_NAMES: Final = tuple(PathDynamics.__dataclass_fields__)
SHAPE_NAMES: Final = tuple(f"gut_{form.value}" for form in Form)
OTHER_NAMES: Final = ("disposal_per_min", "lag_min", "exponent", "insulin_share", "food_share", "reads_high_mg_dl")
LEARNED: Final = (*PATH_NAMES, *SHAPE_NAMES, *OTHER_NAMES)
PLAIN: Final = frozenset({"drive_at_start", "exponent", "insulin_share", "food_share", "reads_high_mg_dl"})


def _forward(name: str, value: float) -> float:
    return value if name in PLAIN else float(np.log(value))


def _back(name: str, value: float) -> float:
    return value if name in PLAIN else float(np.exp(value))
