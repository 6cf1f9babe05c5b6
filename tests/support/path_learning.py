"""Learning path and shape from a pool: treated windows and untreated stretches in one marginal likelihood.

Every window counts by the density of its readings after its moment given those before: how moments come to be chosen
(they are falls) then says nothing. Untreated stretches run up to the first thing eaten, also where they end in a
treatment: kept whole only where nothing followed they would be the gentle ones, that recover by themselves. In treated
windows the factor is integrated out with the starting table's prior, the dose times with theirs. Each window is calm
or, one in several, wild (a meal nobody wrote down); the calm path is what is learned.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Final

import numpy as np
import polars as pl
from scipy.optimize import minimize

from gramrise.domain.findings import Inputs
from gramrise.domain.reasons import Verdict
from gramrise.estimate.array_types import Array
from gramrise.estimate.path.candidate_model import CandidateModel
from gramrise.estimate.path.candidates import shipped_parameters
from gramrise.estimate.path.dynamics import PathDynamics
from gramrise.estimate.path.parameters import PathParameters
from gramrise.estimate.path.stretches import untreated_stretches
from gramrise.estimate.path.windows import FORMS, TreatmentWindows, laid_out, measurable
from gramrise.estimate.path_settings import GridSettings, PathMultipliers, PathSettings
from gramrise.estimate.treatment.candidate_posterior import window_density
from gramrise.estimate.treatment.likelihood import factor_likelihood

# Step of the numerical gradient on the scale of the prior's sd: small against it, large against rounding.
GRADIENT_STEP: Final = 1e-3
MOST_ITERATIONS: Final = 30


PATH_NAMES: Final = tuple(PathDynamics.__dataclass_fields__)
SHAPE_NAMES: Final = tuple(f"gut_{form.value}" for form in FORMS)
OTHER_NAMES: Final = ("disposal_per_min", "lag_min", "exponent", "insulin_share", "food_share", "reads_high_mg_dl")
LEARNED: Final = (*PATH_NAMES, *SHAPE_NAMES, *OTHER_NAMES)
# Numbers that are learned as they are; the others as their logs.
PLAIN: Final = frozenset({"drive_at_start", "exponent", "insulin_share", "food_share", "reads_high_mg_dl"})
# How far a pool may move each number from where it starts, sd on the scale on which it is learned: our choice.
LEARNED_SD: Final = {
    "resting_mg_dl": 0.1, "pull_per_min": 0.4, "bend_min": 0.4, "lasting_min": 0.5, "drive_sd": 0.5, "slope_sd": 0.5,
    "reading_sd": 0.4, "linger_sd": 0.4, "linger_min": 0.4, "gut_tablet": 0.15, "gut_liquid": 0.15, "gut_gel": 0.15,
    "disposal_per_min": 0.5, "drive_at_start": 0.3, "reads_high_mg_dl": 1.5,
}  # fmt: skip
# About parameters that a pool has taught: only what differs between people.
GRID_LEARNED: Final = GridSettings(
    path=(PathMultipliers(name="steady", prior=1.0),),
    disposal=(0.6, 1.0, 1.7),
    gut=(0.94, 1.0, 1.08),
    gut_times=(0.85, 1.15),
)


@dataclass(frozen=True, slots=True)
class LearningSettings:
    """Robustness, size, and how far each number may move."""

    wild_times: float = 4.0  # noise of a wild window against a calm one: our choice, a meal against none
    wild_share: float = 0.15  # our choice
    most_windows: int = 400  # of each kind; more cost time and change little
    sd: dict[str, float] = field(default_factory=lambda: dict(LEARNED_SD))


@dataclass(frozen=True, slots=True)
class Learned:
    """Parameters, and from how many windows of each kind they were learned."""

    parameters: PathParameters
    treated_n: int
    untreated_n: int


def settings_with(settings: PathSettings, parameters: PathParameters) -> PathSettings:
    """The settings with learned parameters, and the narrower grid about them, in place of the shipped ones."""
    return settings.model_copy(update={"default": asdict(parameters), "grid": GRID_LEARNED})


def vector_of(parameters: PathParameters) -> Array:
    """The learned numbers on the scale on which they are learned."""
    values = [_value(parameters, name) for name in LEARNED]
    return np.array([v if n in PLAIN else float(np.log(v)) for n, v in zip(LEARNED, values, strict=True)])


def moved_to(parameters: PathParameters, vector: Array) -> PathParameters:
    """The same parameters with the learned numbers replaced."""
    values = {n: float(v) if n in PLAIN else float(np.exp(v)) for n, v in zip(LEARNED, vector, strict=True)}
    path = {name: values.pop(name) for name in PATH_NAMES}
    gut = {form.value: values.pop(f"gut_{form.value}") for form in FORMS}
    others: dict[str, Any] = values
    return replace(parameters, path=PathDynamics(**path), gut_min=gut, **others)


def _value(parameters: PathParameters, name: str) -> float:
    if name in PATH_NAMES:
        return float(getattr(parameters.path, name))
    return float(parameters.gut_min[name[4:]] if name.startswith("gut_") else getattr(parameters, name))


def learn(
    people: Sequence[tuple[Inputs, pl.DataFrame]], settings: PathSettings, learning: LearningSettings | None = None
) -> Learned:
    """Parameters at the maximum of the joint marginal likelihood times a Gaussian prior about the shipped ones.

    people    inputs and their SCREENED frame (weight_kg f64 beside it), one pair a person
    returns   the shipped parameters where there is nothing to learn from
    """
    learning = learning or LearningSettings()
    centre = shipped_parameters(settings)
    treated, untreated = learning_windows(people, settings, learning.most_windows)
    if treated is None and untreated is None:
        return Learned(centre, 0, 0)
    names = [name for name in LEARNED if name in learning.sd]
    where = np.array([LEARNED.index(name) for name in names])
    sd = np.array([learning.sd[name] for name in names])
    middle = vector_of(centre)

    def climb(scaled: Array) -> tuple[float, Array]:
        steps = np.vstack([np.zeros(scaled.size), np.eye(scaled.size) * GRADIENT_STEP])
        at = np.tile(middle, (steps.shape[0], 1))
        at[:, where] += (scaled + steps) * sd
        value = joint_log_density([moved_to(centre, point) for point in at], treated, untreated, settings, learning)
        value = value - 0.5 * ((scaled + steps) ** 2).sum(axis=1)
        return -float(value[0]), -(value[1:] - value[0]) / GRADIENT_STEP

    found = minimize(
        climb, np.zeros(where.size), jac=True, method="L-BFGS-B", options={"maxiter": MOST_ITERATIONS, "ftol": 1e-7}
    )
    best = middle.copy()
    best[where] += found.x * sd
    counted = [0 if windows is None else windows.row.size for windows in (treated, untreated)]
    return Learned(moved_to(centre, best), *counted)


def learning_windows(
    people: Sequence[tuple[Inputs, pl.DataFrame]], settings: PathSettings, most: int
) -> tuple[TreatmentWindows | None, TreatmentWindows | None]:
    """Treated windows and untreated stretches of a pool, thinned evenly; None where there is none of a kind."""
    treated, untreated = [], []
    for inputs, screened in people:
        used = screened.filter(pl.col("verdict") == Verdict.USED)
        if used.height:
            windows = laid_out(inputs, used, settings)
            treated.append(windows.chosen(measurable(windows, settings)))
        stretches = untreated_stretches(inputs, settings)
        if stretches.height:
            untreated.append(laid_out(inputs, stretches, settings).without_doses())
    return _pooled(treated, most), _pooled(untreated, most)


def _pooled(parts: list[TreatmentWindows], most: int) -> TreatmentWindows | None:
    kept = [part for part in parts if part.row.size]
    return _thinned(_joined(kept), most) if kept else None


def joint_log_density(
    points: Sequence[PathParameters],
    treated: TreatmentWindows | None,
    untreated: TreatmentWindows | None,
    settings: PathSettings,
    learning: LearningSettings,
) -> Array:
    """[K] log density of all windows after their moment given before it, under each candidate."""
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


def _thinned(windows: TreatmentWindows, most: int) -> TreatmentWindows:
    """At most so many windows, evenly spaced in their order."""
    count = windows.row.size
    return windows if count <= most else windows.chosen(np.linspace(0, count - 1, most).astype(np.int64))


def _joined(parts: list[TreatmentWindows]) -> TreatmentWindows:
    """Windows of many persons in one, padded to the longest; row numbers count on within each part."""
    if len(parts) == 1:
        return parts[0]
    longest = max((part.minutes.shape[1] for part in parts), default=1)
    doses = max((part.dose_minutes.shape[1] for part in parts), default=1)
    wide = dict.fromkeys(("minutes", "values", "present", "below"), longest)
    wide |= dict.fromkeys(("dose_minutes", "dose_grams", "dose_form"), doses)

    def stacked(name: str) -> Array:
        arrays = [getattr(part, name) for part in parts]
        if name in wide:
            edge = "edge" if name in ("minutes", "values") else "constant"
            arrays = [np.pad(a, ((0, 0), (0, wide[name] - a.shape[1])), mode=edge) for a in arrays]  # type: ignore[call-overload]
        return np.concatenate(arrays)

    fields: dict[str, Any] = {name: stacked(name) for name in TreatmentWindows.__dataclass_fields__}
    return TreatmentWindows(**fields)
