"""Drift of one person for whoever reads it: computed when asked, from findings that are up to date."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from pathlib import Path

import polars as pl

from gramrise.domain.drift import ReferencePoint
from gramrise.domain.person import Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.references import SignedReference
from gramrise.estimate import drift_of, estimate_settings
from gramrise.nightly.current import current_findings
from gramrise.store import Store


def current_drift(
    store: Store, person: Person, references: Sequence[ReferencePoint], now_utc: datetime, home: Path | None = None
) -> pl.DataFrame:
    """DRIFT of a person's bands that have a reference. Raises CouldNotRun when the inputs keep changing meanwhile."""
    found = current_findings(store, person.person_id, now_utc, home, ("pairings",))
    return drift_of(person, found.pairings, references, now_utc, estimate_settings(home))


def signed_points(person: Person, references: Iterable[SignedReference]) -> tuple[ReferencePoint, ...]:
    """The latest sign-off that was accepted and not taken back, also where it has ended since; () where there is none.

    A band whose hours are others now has no reference: its number is of other treatments.
    references  all of the person, the latest first
    """
    hours = {(band.name, band.hours) for band in person.bands_now()}
    signed = next((one for one in references if one.accepted and one.withdrawn_on is None), None)
    if signed is None:
        return ()
    return tuple(
        ReferencePoint(band.band, signed.as_of, band.factor_mg_dl_per_g, signed.weight_kg)
        for band in signed.bands
        if (band.band, band.hours) in hours
    )


def points_on(person: Person, day: date, now_utc: datetime) -> tuple[ReferencePoint, ...]:
    """A day taken as the reference of all bands, though nobody signed it. Raises WrongUse for a day to come."""
    if day > now_utc.astimezone(person.zone_now()).date():
        raise WrongUse(f"{day.isoformat()} is still to come", "--since takes a day in the past")
    return tuple(ReferencePoint(band.name, day) for band in person.bands_now())
