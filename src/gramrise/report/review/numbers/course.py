"""The course of each band's number, with what was signed and what growth alone would have made of it."""

from collections.abc import Sequence
from datetime import date, timedelta

import polars as pl

from gramrise.domain.bands import TimeBand
from gramrise.domain.findings import Findings
from gramrise.domain.person import Person, band_there, zone_on
from gramrise.domain.reasons import Verdict
from gramrise.estimate import WeekLevel, weight_on
from gramrise.report.review.numbers.view import Course, CoursePoint, DriftLine, GrowthPoint, SignOff

# Days between the points of the line of growth: weight for age bends slowly.
GROWTH_STEP_DAYS = 14


def courses_of(
    person: Person,
    findings: Findings,
    bands: tuple[TimeBand, ...],
    levels: Sequence[WeekLevel],
    signed: SignOff | None,
    drift: Sequence[DriftLine],
    from_on: date,
    to_on: date,
) -> tuple[Course, ...]:
    """One course a band, from a day on."""
    singles = _singles(person, findings, bands, from_on)
    moved = {line.band: line for line in drift}
    found = []
    for band in bands:
        mine = next((one for one in signed.bands if one.band == band.name), None) if signed else None
        line = moved.get(band.name)
        found.append(
            Course(
                band=band.name,
                hours=band.hours,
                points=tuple(
                    CoursePoint(
                        week=one.week,
                        factor_mg_dl_per_g=one.factor_mg_dl_per_g,
                        p05_mg_dl_per_g=one.p05_mg_dl_per_g,
                        p95_mg_dl_per_g=one.p95_mg_dl_per_g,
                    )
                    for one in levels
                    if one.band == band.name and one.week >= from_on
                ),
                singles=singles[band.name],
                signed=mine,
                signed_on=signed.as_of if signed and mine else None,
                growth=_growth(person, mine.factor_mg_dl_per_g, signed.as_of, to_on) if signed and mine else (),
                change_on=line.change_on if line else None,
                change_p05_on=line.change_p05_on if line else None,
                change_p95_on=line.change_p95_on if line else None,
            )
        )
    return tuple(found)


def _growth(person: Person, signed: float | None, from_on: date, to_on: date) -> tuple[GrowthPoint, ...]:
    """The signed number times the weight of its day over that of each later day."""
    kg = weight_on(person, from_on)
    if signed is None or kg is None or to_on <= from_on:
        return ()
    days = [from_on + timedelta(days=step) for step in range(0, (to_on - from_on).days, GROWTH_STEP_DAYS)]
    weights = [(day, weight_on(person, day)) for day in [*days, to_on]]
    return tuple(GrowthPoint(on=day, factor_mg_dl_per_g=signed * kg / later) for day, later in weights if later)


def _singles(
    person: Person, findings: Findings, bands: tuple[TimeBand, ...], from_on: date
) -> dict[str, tuple[tuple[date, float], ...]]:
    """The used treatments' own numbers, by the band that holds them today."""
    factor = pl.col("factor_mg_dl_per_g")
    used = findings.pairings.filter(pl.col("verdict") == Verdict.USED, factor > 0, factor.is_finite())
    singles = sorted(
        (at.astimezone(zone_on(person.zone, at)).date(), band_there(person.zone, at, bands).name, round(one, 3))
        for at, one in used.select("first_dose_utc", factor).rows()
    )
    return {
        band.name: tuple((on, one) for on, name, one in singles if name == band.name and on >= from_on)
        for band in bands
    }
