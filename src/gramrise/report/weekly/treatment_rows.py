"""Rows of a report: each low with what was given for it, and each amount of glucose given without a low."""

from datetime import datetime
from math import isfinite
from typing import Any

import polars as pl

from gramrise.domain.findings import Findings, Inputs
from gramrise.report.weekly.nights import minutes_between, rows_within
from gramrise.report.weekly.view import LowView, Measured


def measured_rows(inputs: Inputs, findings: Findings, from_utc: datetime, to_utc: datetime) -> tuple[Measured, ...]:
    """Every treatment whose first dose lies in [from_utc, to_utc), by time; unpaired ones are set aside."""
    week = rows_within(findings.pairings, "first_dose_utc", from_utc, to_utc)
    known = {row["first_dose_utc"]: row for row in week.to_dicts()}
    weaker = _weaker_between(inputs)
    return tuple(
        _measured(row, known.get(row["first_dose_utc"], {}), weaker(row["first_dose_utc"], row["last_dose_utc"]))
        for row in rows_within(findings.treatments, "first_dose_utc", from_utc, to_utc).to_dicts()
    )


def _measured(treatment: dict[str, Any], pairing: dict[str, Any], may_be_weaker: bool) -> Measured:
    return Measured(
        first_dose_utc=treatment["first_dose_utc"],
        last_dose_utc=treatment["last_dose_utc"],
        treatment_class=treatment["class"],
        band=treatment["band"],
        doses_n=treatment["doses_n"],
        grams=treatment["grams"],
        may_be_weaker=may_be_weaker,
        sources=tuple(name for name in treatment["sources"] or () if name),
        start_seen_mg_dl=_number(pairing.get("start_seen_mg_dl")),
        slope_mg_dl_per_min=_number(pairing.get("slope_mg_dl_per_min")),
        rise_seen_mg_dl=_number(pairing.get("rise_seen_mg_dl")),
        factor_mg_dl_per_g=_number(pairing.get("factor_mg_dl_per_g")),
        verdict=pairing.get("verdict", "set_aside"),
        reasons=tuple(pairing.get("reasons") or ()),
    )


def _number(value: float | None) -> float | None:
    """A number that can be told; what is not a number, or endless, is not known."""
    return value if value is not None and isfinite(value) else None


def _weaker_between(inputs: Inputs) -> Any:
    """A function of two instants: whether a dose between them, ends included, may hold 9 % less than printed."""
    marked = [at for (at,) in inputs.doses.filter(pl.col("may_be_weaker")).select("taken_at_utc").rows()]
    return lambda first, last: any(first <= at <= last for at in marked)


def low_rows(lows: pl.DataFrame, measured: tuple[Measured, ...]) -> tuple[LowView, ...]:
    """A row for each low of the frame, by time, with the treatment that began with its first dose.

    A low whose first dose lies within a treatment begun earlier names that treatment's first dose instead.
    """
    return tuple(_low(row, measured) for row in lows.to_dicts())


def _low(row: dict[str, Any], measured: tuple[Measured, ...]) -> LowView:
    same = {name: row[name] for name in LowView.model_fields if name in row}
    over, dose = row["end_utc"] is not None, row["first_dose_utc"]
    around = [one for one in measured if dose is not None and one.first_dose_utc <= dose <= one.last_dose_utc]
    own = next((one for one in around if one.first_dose_utc == dose), None)
    return LowView(
        **{**same, "evidence": tuple(row["evidence"] or ())},
        minutes=minutes_between(row["start_utc"], row["end_utc"]) if over else None,
        treatment=own,
        within_utc=around[0].first_dose_utc if around and own is None else None,
    )


def worst_first(lows: tuple[LowView, ...], most: int) -> tuple[tuple[LowView, ...], tuple[LowView, ...]]:
    """(the `most` worst lows, the rest), each by time. Worse: level 2, then the lower nadir, then the longer."""
    longest = max((low.minutes or 0.0 for low in lows), default=0.0) + 1
    ranked = sorted(lows, key=lambda low: (-low.level, low.nadir_mg_dl, -(low.minutes or longest), low.start_utc))
    worst, rest = ranked[:most], ranked[most:]
    return (
        tuple(sorted(worst, key=lambda low: low.start_utc)),
        tuple(sorted(rest, key=lambda low: low.start_utc)),
    )
