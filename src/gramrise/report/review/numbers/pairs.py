"""Each pairing with its trace and its untreated path, as a clinician looks at it."""

from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.detect.trace import US_PER_MINUTE, Trace
from gramrise.domain.findings import Findings, Inputs
from gramrise.report.review.numbers.span import Span
from gramrise.report.review.numbers.view import Paired
from gramrise.report.review.settings import ReviewSettings
from gramrise.report.weekly.numbers.view import Measured, Point

Numbers = NDArray[np.float64]
Lines = NDArray[np.float64]  # [4, points]: minute, untreated path, its sd, fit
ShownOn = Sequence[tuple[datetime, str, float]]  # (shown at, band, mg/dL per g), by time


def paired(
    span: Span, inputs: Inputs, findings: Findings, shown: ShownOn, settings: ReviewSettings
) -> tuple[Paired, ...]:
    """Every treatment of the span with what was judged of it, the latest first."""
    rows = {row["first_dose_utc"]: row for row in _within(findings.pairings, "first_dose_utc", span).to_dicts()}
    paths = _paths(_within(findings.paths, "first_dose_utc", span))
    doses = _within(inputs.doses, "taken_at_utc", span).sort("taken_at_utc").select("taken_at_utc", "grams").rows()
    found = (
        _one(one, rows.get(one.first_dose_utc, {}), paths.get(one.first_dose_utc), span.trace, doses, shown, settings)
        for one in span.measured
    )
    return tuple(sorted(found, key=lambda one: one.first_dose_utc, reverse=True))


def _within(frame: pl.DataFrame, column: str, span: Span) -> pl.DataFrame:
    start, end = span.ends
    return frame.filter(pl.col(column) >= start, pl.col(column) < end)


def _one(
    one: Measured,
    row: dict[str, Any],
    path: Lines | None,
    trace: Trace,
    doses: Sequence[tuple[datetime, float | None]],
    shown: ShownOn,
    settings: ReviewSettings,
) -> Paired:
    first = one.first_dose_utc
    untreated, fitted, sd = _lines(path, settings)
    return Paired(
        **one.model_dump(),
        form=row.get("form") or "unknown",
        weight_kg=row.get("weight_kg"),
        factor_sd_mg_dl_per_g=row.get("factor_sd_mg_dl_per_g"),
        insulin_on_board_units=row.get("insulin_on_board_units"),
        trace=_trace(first, trace, settings),
        untreated=untreated,
        untreated_sd_mg_dl=sd,
        fitted=fitted,
        given=tuple((_minutes(first, at), grams) for at, grams in doses if first <= at <= one.last_dose_utc),
        shown_factor_mg_dl_per_g=_shown_then(first, one.band, shown),
    )


def _minutes(first: datetime, at: datetime) -> float:
    return round((at - first).total_seconds() / 60, 1)


def _shown_then(first: datetime, band: str, shown: ShownOn) -> float | None:
    """The number of a band as the last night before the glucose had shown it."""
    told = [factor for at, name, factor in shown if at <= first and name == band]
    return told[-1] if told else None


def _paths(paths: pl.DataFrame) -> dict[datetime, Lines]:
    """By first dose: minutes after it, untreated path, its sd and the fit, [4, points]."""
    minutes = (pl.col("at_utc") - pl.col("first_dose_utc")).dt.total_seconds() / 60
    columns = ("untreated_mg_dl", "untreated_sd_mg_dl", "fitted_mg_dl")
    values = paths.select(minutes.cast(pl.Float64).alias("minute"), *columns).to_numpy().T
    firsts = paths["first_dose_utc"]
    ends = np.flatnonzero(np.diff(firsts.dt.epoch("us").to_numpy(), prepend=-1, append=-1))
    return {firsts[int(a)]: values[:, a:b] for a, b in pairwise(ends)}


def _lines(path: Lines | None, settings: ReviewSettings) -> tuple[tuple[Point, ...], tuple[Point, ...], float | None]:
    """Untreated path and fit as far as they are drawn, and the path's sd where the rise stands highest."""
    if path is None:
        return (), (), None
    inside = (path[0] >= -settings.trace_before_minutes) & (path[0] <= settings.trace_after_minutes)
    if not inside.any():
        return (), (), None
    minutes, untreated, sd, fitted = path[:, inside]
    at_peak = float(sd[int(np.argmax(fitted - untreated))])
    return _points(minutes, untreated, settings), _points(minutes, fitted, settings), round(at_peak, 1)


def _points(minutes: Numbers, levels: Numbers, settings: ReviewSettings) -> tuple[Point, ...]:
    held = np.clip(levels, settings.trace_lowest_mg_dl, settings.trace_highest_mg_dl)
    return tuple(zip(minutes.round(1).tolist(), held.round(1).tolist(), strict=True))


def _held(level: float, settings: ReviewSettings) -> float:
    return round(min(max(level, settings.trace_lowest_mg_dl), settings.trace_highest_mg_dl), 1)


def _trace(first: datetime, trace: Trace, settings: ReviewSettings) -> tuple[tuple[Point, ...], ...]:
    """The readings around a treatment, broken at gaps."""
    at = int(first.timestamp() * 1_000_000)
    ends = (
        at - settings.trace_before_minutes * US_PER_MINUTE,
        at + settings.trace_after_minutes * US_PER_MINUTE + 1,
    )
    start, stop = trace.first_at(np.array(ends))
    pieces: list[list[Point]] = []
    for row in range(int(start), int(stop)):
        if trace.starts[row] or not pieces:
            pieces.append([])
        minute = round((int(trace.at_us[row]) - at) / US_PER_MINUTE, 1)
        pieces[-1].append((minute, _held(float(trace.mg_dl[row]), settings)))
    return tuple(tuple(piece) for piece in pieces)
