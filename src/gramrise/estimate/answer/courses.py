"""The course of the rise: minutes to half of it by form, and the share left after 90 minutes."""

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np
import polars as pl
from numpy.polynomial.hermite_e import hermegauss

from gramrise.domain.frames import COURSES
from gramrise.domain.sources import Form
from gramrise.estimate.array_types import Array
from gramrise.estimate.path import PathParameters, RiseShape, rise_curve

# Spread within one candidate of the grid, sd of log: half the distance to its neighbours (config).
GUT_BETWEEN_SD_LOG: Final = 0.15
DISPOSAL_BETWEEN_SD_LOG: Final = 0.28
NODES: Final = 5
SHARE_AT_MIN: Final = 90


def courses_of(person_id: str, candidates: Sequence[PathParameters], weights: Array) -> pl.DataFrame:
    """COURSES: the course of the rise in the blood, one row a form, medians and 90 % intervals over the candidates.

    candidates, weights  the likely candidates and their posterior weights; none: no rows
    """
    rows = []
    for form in (Form.TABLET, Form.LIQUID, Form.GEL) if candidates else ():
        half, peak, left, within = np.concatenate([_course(each.shape(form.value)) for each in candidates], axis=1)
        mass = within * np.repeat(weights, within.size // len(candidates))
        row: dict[str, object] = {"person_id": person_id, "form": form.value}
        row["minutes_to_peak"] = _quantile(peak, mass, 0.5)
        for name, values in (("minutes_to_half", half), ("share_left_90", left)):
            row[name] = _quantile(values, mass, 0.5)
            row[f"p05_{name}"], row[f"p95_{name}"] = _quantile(values, mass, 0.05), _quantile(values, mass, 0.95)
        rows.append(row)
    return COURSES.check(pl.DataFrame(rows, schema=COURSES.schema))


@lru_cache(maxsize=512)
def _course(middle: RiseShape) -> Array:
    """[4, points] minutes to half and to peak, share left, and mass of each point of the spread within a candidate.

    Computed once a shape, as every person of a night needs the same.
    """
    at, within = hermegauss(NODES)
    within = within / within.sum()
    points = []
    for gut, gut_mass in zip(middle.gut_min * np.exp(GUT_BETWEEN_SD_LOG * at), within, strict=True):
        for gone, gone_mass in zip(middle.disposal_per_min * np.exp(DISPOSAL_BETWEEN_SD_LOG * at), within, strict=True):
            curve = rise_curve(RiseShape(float(gut), float(gone), middle.lag_min))
            mass = gut_mass * gone_mass
            points.append((curve.minutes_to_half, curve.minutes_to_peak, curve.share_left(SHARE_AT_MIN), mass))
    return np.array(points, dtype=float).T


def _quantile(values: Array, mass: Array, share: float) -> float:
    order = np.argsort(values)
    reached = np.cumsum(mass[order]) - 0.5 * mass[order]
    return float(np.interp(share, reached / mass.sum(), values[order]))
