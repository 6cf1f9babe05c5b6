"""What the pairings say of the rise's course: minutes to half of it by form, and the share left after 90 minutes."""

from collections.abc import Sequence
from typing import Final

import numpy as np
import polars as pl
from numpy.polynomial.hermite_e import hermegauss

from gramrise.domain.sources import Form
from gramrise.estimate.filter_types import Array
from gramrise.estimate.parameters import PathParameters
from gramrise.estimate.shape import RiseShape, rise_curve

# Doubt left between neighbouring candidates of the grid, sd of log: half the distance between them (config).
GUT_BETWEEN_SD_LOG: Final = 0.15
DISPOSAL_BETWEEN_SD_LOG: Final = 0.35
NODES: Final = 5
SHARE_AT_MIN: Final = 90
SHAPE_SCHEMA: Final = {
    "form": pl.String(),
    "minutes_to_half": pl.Float64(),
    "p05_minutes_to_half": pl.Float64(),
    "p95_minutes_to_half": pl.Float64(),
    "minutes_to_peak": pl.Float64(),
    "share_left_90": pl.Float64(),
    "p05_share_left_90": pl.Float64(),
    "p95_share_left_90": pl.Float64(),
}


def shape_answers(candidates: Sequence[PathParameters], weights: Array) -> pl.DataFrame:
    """The course of the rise in the blood, one row a form, medians and 90 % intervals over the weighed candidates.

    candidates, weights  as `Measured` carries them: what this person's treatments leave standing
    returns              SHAPE_SCHEMA; minutes from swallowing; shares of the peak
    """
    rows = []
    for form in (Form.TABLET, Form.LIQUID, Form.GEL):
        half, peak, left, mass = _course(candidates, weights, form)
        row: dict[str, object] = {"form": form.value, "minutes_to_peak": _quantile(peak, mass, 0.5)}
        for name, values in (("minutes_to_half", half), ("share_left_90", left)):
            row[name] = _quantile(values, mass, 0.5)
            row[f"p05_{name}"], row[f"p95_{name}"] = _quantile(values, mass, 0.05), _quantile(values, mass, 0.95)
        rows.append(row)
    return pl.DataFrame(rows, schema=SHAPE_SCHEMA)


def _course(candidates: Sequence[PathParameters], weights: Array, form: Form) -> tuple[Array, Array, Array, Array]:
    """Minutes to half and to peak, share left, and the mass of each point: candidates spread about themselves."""
    at, within = hermegauss(NODES)
    within = within / within.sum()
    out = []
    for parameters, weight in zip(candidates, weights, strict=True):
        middle = parameters.shape(form.value)
        for gut, gut_mass in zip(middle.gut_min * np.exp(GUT_BETWEEN_SD_LOG * at), within, strict=True):
            for gone, gone_mass in zip(
                middle.disposal_per_min * np.exp(DISPOSAL_BETWEEN_SD_LOG * at), within, strict=True
            ):
                curve = rise_curve(RiseShape(float(gut), float(gone), middle.lag_min))
                mass = weight * gut_mass * gone_mass
                out.append((curve.minutes_to_half, curve.minutes_to_peak, curve.share_left(SHARE_AT_MIN), mass))
    half, peak, left, mass = np.array(out, dtype=float).T
    return half, peak, left, mass


def _quantile(values: Array, mass: Array, share: float) -> float:
    order = np.argsort(values)
    reached = np.cumsum(mass[order]) - 0.5 * mass[order]
    return float(np.interp(share, reached / mass.sum(), values[order]))
