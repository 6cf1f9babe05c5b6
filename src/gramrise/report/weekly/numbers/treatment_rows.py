"""Rows of a report: each low with what was given for it, and each amount of glucose given without a low."""

from datetime import datetime, timedelta
from math import isfinite
from typing import Any, Final

import polars as pl

from gramrise.detect.settings import DetectSettings
from gramrise.detect.trace import Trace
from gramrise.domain.findings import Findings
from gramrise.report.weekly.numbers.nights import Night, minutes_between, readings_between, rows_within
from gramrise.report.weekly.numbers.sensor_doubt import lain_upon
from gramrise.report.weekly.numbers.view import LowView, Measured
from gramrise.report.weekly.settings import ReportSettings

# Windows of readings are half open; this takes in a reading at their end.
AN_INSTANT: Final = timedelta(microseconds=1)


def measured_rows(
    findings: Findings,
    trace: Trace,
    weaker: tuple[datetime, ...],
    week: tuple[datetime, datetime],
    detecting: DetectSettings,
    noticed: tuple[tuple[datetime, str], ...] = (),
) -> tuple[Measured, ...]:
    """Every treatment whose first dose lies in the week, [from, to), by time; unpaired ones are set aside.

    weaker   instants of doses that may hold 9 % less than printed
    noticed  instants of doses with who noticed that they were needed, by time
    """
    known = {row["first_dose_utc"]: row for row in rows_within(findings.pairings, "first_dose_utc", *week).to_dicts()}
    return tuple(
        _measured(
            row,
            known.get(row["first_dose_utc"], {}),
            any(row["first_dose_utc"] <= at <= row["last_dose_utc"] for at in weaker),
            _high_after(row["first_dose_utc"], trace, detecting),
            [who for at, who in noticed if row["first_dose_utc"] <= at <= row["last_dose_utc"]],
        )
        for row in rows_within(findings.treatments, "first_dose_utc", *week).to_dicts()
    )


def _high_after(first_dose_utc: datetime, trace: Trace, detecting: DetectSettings) -> bool:
    """Whether a reading stands above 180 within two hours; never where the level was above it at the start."""
    start = readings_between(
        trace, first_dose_utc - timedelta(minutes=detecting.start_within_minutes), first_dose_utc + AN_INSTANT
    )
    if start and start[-1][1] > detecting.high_mg_dl:
        return False
    until = first_dose_utc + timedelta(minutes=detecting.high_within_minutes) + AN_INSTANT
    return any(level > detecting.high_mg_dl for _, level in readings_between(trace, first_dose_utc, until))


def _measured(
    treatment: dict[str, Any], pairing: dict[str, Any], may_be_weaker: bool, high_after: bool, noticed: list[str]
) -> Measured:
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
        rise_estimated_mg_dl=_number(pairing.get("rise_estimated_mg_dl")),
        above_180_within_2h=high_after,
        factor_mg_dl_per_g=_number(pairing.get("factor_mg_dl_per_g")),
        verdict=pairing.get("verdict", "set_aside"),
        reasons=tuple(pairing.get("reasons") or ()),
        noticed=tuple(dict.fromkeys(noticed)),
    )


def _number(value: float | None) -> float | None:
    """A number that can be told; what is not a number, or endless, is not known."""
    return value if value is not None and isfinite(value) else None


def low_rows(
    lows: pl.DataFrame, measured: tuple[Measured, ...], trace: Trace, night: Night, settings: ReportSettings
) -> tuple[LowView, ...]:
    """A row for each low of the frame, by time, with the treatment that began with its first dose.

    A low whose first dose lies within a treatment begun earlier names that treatment's first dose instead.
    """
    return tuple(
        _low(row, measured, lain_upon(row, trace, settings), night.meets(row["start_utc"], row["end_utc"]))
        for row in lows.to_dicts()
    )


def other_given(measured: tuple[Measured, ...], lows: tuple[LowView, ...]) -> tuple[Measured, ...]:
    """Treatments that no low's row shows, by time; one given again in a low names that low's begin."""
    shown = {low.treatment.first_dose_utc for low in lows if low.treatment}
    rest = [one for one in measured if one.first_dose_utc not in shown]
    return tuple(one.model_copy(update={"again_in_low_utc": _low_around(one.first_dose_utc, lows)}) for one in rest)


def _low_around(at_utc: datetime, lows: tuple[LowView, ...]) -> datetime | None:
    around = (low for low in lows if low.start_utc <= at_utc and (low.end_utc is None or at_utc <= low.end_utc))
    return next((low.start_utc for low in around), None)


def _low(row: dict[str, Any], measured: tuple[Measured, ...], on_sensor: bool, by_night: bool) -> LowView:
    same = {name: row[name] for name in LowView.model_fields if name in row}
    over, dose = row["end_utc"] is not None, row["first_dose_utc"]
    around = [one for one in measured if dose is not None and one.first_dose_utc <= dose <= one.last_dose_utc]
    own = next((one for one in around if one.first_dose_utc == dose), None)
    return LowView(
        **{**same, "evidence": tuple(row["evidence"] or ())},
        minutes=minutes_between(row["start_utc"], row["end_utc"]) if over else None,
        lain_upon=on_sensor,
        by_night=by_night,
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
