"""The lines of a review on drift, from its frame."""

import polars as pl

from gramrise.domain.person import Person
from gramrise.report.review.numbers.view import DriftLine

RENAMED = {
    "reference_date": "reference_on",
    "change_date": "change_on",
    "change_date_p05": "change_p05_on",
    "change_date_p95": "change_p95_on",
}
LEFT_OUT = ("person_id", "as_of_utc", "pairings_before")


def drift_lines(person: Person, drift: pl.DataFrame, signed: bool = True) -> tuple[DriftLine, ...]:
    """One line a band whose weights are known, in the order of the bands.

    drift   DRIFT of one person
    signed  whether the reference is a signed one
    """
    hours = {band.name: band.hours for band in person.bands_now()}
    told = drift.filter(pl.col("growth_ratio").is_not_null()).drop(LEFT_OUT).rename(RENAMED)
    rows = {row["band"]: row for row in told.iter_rows(named=True)}
    return tuple(
        DriftLine(**rows[name], hours=told_hours, signed=signed) for name, told_hours in hours.items() if name in rows
    )
