"""Each band's answer: the latest number, the single treatments behind it, and why it is not yet sure."""

from datetime import datetime
from typing import Any

import polars as pl

from gramrise.domain.bands import TimeBand
from gramrise.domain.findings import Findings
from gramrise.domain.person import Person, band_there
from gramrise.domain.words import State
from gramrise.estimate import StateSettings, band_state
from gramrise.report.lack_view import LackView, lack_views
from gramrise.report.weekly.numbers.view import FactorView


def factor_views(
    findings: Findings, person: Person, singles_from_utc: datetime, rules: StateSettings
) -> tuple[FactorView, ...]:
    """The latest row of each band, in the order of the person's bands; a band without one has no numbers.

    A single treatment stands with the band that holds its first dose today: bands may have changed since it was given.
    """
    bands = _bands_of(findings, person)
    latest = {row["band"]: row for row in findings.factors.sort("as_of_utc").to_dicts()}
    counted = (
        (pl.col("verdict") == "used") & (pl.col("factor_mg_dl_per_g") > 0) & pl.col("factor_mg_dl_per_g").is_finite()
    )
    used = findings.pairings.filter(counted, pl.col("first_dose_utc") >= singles_from_utc)
    singles: dict[str, list[float]] = {band.name: [] for band in bands}
    for given_at, factor in used.select("first_dose_utc", "factor_mg_dl_per_g").rows():
        singles[band_there(person.zone, given_at, bands).name].append(factor)
    lacks = {
        band.name: lack_views(band_state(person, findings, band.name, findings.as_of_utc, rules))
        for band in bands
        if latest.get(band.name, {}).get("state") == State.THIN
    }
    return tuple(
        _factor(band, latest.get(band.name, {}), person, singles[band.name], lacks.get(band.name, ())) for band in bands
    )


def _bands_of(findings: Findings, person: Person) -> tuple[TimeBand, ...]:
    """The bands the numbers are of: those of the day they were found on; they may have changed since the week."""
    day = findings.as_of_utc.astimezone(person.zone_now()).date()
    return person.bands.on_or_first(day) or person.bands_now()


def _weight_estimated(person: Person, row: dict[str, Any]) -> bool:
    """Whether the weight of a row of FACTORS reads otherwise, to a tenth of a kg, than the last weighing by then."""
    kg = row.get("weight_kg")
    if kg is None:
        return False
    last = person.weights_kg.on_or_first(row["as_of_utc"].astimezone(person.zone_now()).date())
    return last is None or round(kg, 1) != round(last, 1)


def _factor(
    band: TimeBand, row: dict[str, Any], person: Person, singles: list[float], lacks: tuple[LackView, ...]
) -> FactorView:
    return FactorView(
        band=band.name,
        hours=band.hours,
        factor_mg_dl_per_g=row.get("factor_mg_dl_per_g"),
        p05_factor_mg_dl_per_g=row.get("p05_factor_mg_dl_per_g"),
        p95_factor_mg_dl_per_g=row.get("p95_factor_mg_dl_per_g"),
        starting_mg_dl_per_g=row.get("starting_mg_dl_per_g"),
        weight_kg=row.get("weight_kg"),
        weight_estimated=_weight_estimated(person, row),
        pairings_used=row.get("pairings_used") or 0,
        state=row.get("state") or State.WITHHELD,
        single_mg_dl_per_g=tuple(round(one, 3) for one in singles),
        lacks=lacks,
    )
