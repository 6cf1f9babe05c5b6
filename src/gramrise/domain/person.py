"""A person and what is known about them, each fact dated: changing one recomputes what depends on it."""

from bisect import bisect_right
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from typing import Generic, TypeVar
from zoneinfo import ZoneInfo

from gramrise.domain.bands import DEFAULT_BANDS, TimeBand, band_at
from gramrise.domain.care_plan import CarePlan
from gramrise.domain.sources import Source
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Dated(Generic[T]):
    """A fact and its changes: (local date from which it holds, value), kept in order of date."""

    entries: tuple[tuple[date, T], ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "entries", tuple(sorted(self.entries, key=lambda entry: entry[0])))

    def on(self, day: date) -> T | None:
        """The value that holds on a local date: the latest begun by then, else None."""
        at = bisect_right(self.entries, day, key=lambda entry: entry[0])
        return self.entries[at - 1][1] if at else None

    def on_or_first(self, day: date) -> T | None:
        """The value that holds on a date; before the first entry, the first. None only when there is no entry."""
        found = self.on(day)
        return found if found is not None or not self.entries else self.entries[0][1]

    def latest(self) -> T | None:
        return self.entries[-1][1] if self.entries else None

    def since(self) -> date | None:
        """The local date of the latest change."""
        return self.entries[-1][0] if self.entries else None

    def with_entry(self, day: date, value: T) -> "Dated[T]":
        """The same fact with one more change; a second value on a date replaces the first."""
        kept = tuple(entry for entry in self.entries if entry[0] != day)
        return Dated((*kept, (day, value)))


@dataclass(frozen=True, slots=True)
class Person:
    """One person. Lengths of time are read on the clock of `zone`; weights in kg; target in mg/dL."""

    person_id: str
    born: date
    zone: Dated[ZoneInfo]
    unit: GlucoseUnit = GlucoseUnit.MG_DL
    name: str = ""
    sex: str = ""  # "boy", "girl" or "": only to choose the growth reference
    language: str = "en"
    weights_kg: Dated[float] = field(default_factory=Dated)
    bands: Dated[tuple[TimeBand, ...]] = field(default_factory=lambda: Dated(((date.min, DEFAULT_BANDS),)))
    delivery: Dated[Delivery] = field(default_factory=Dated)
    target_mg_dl: Dated[float] = field(default_factory=Dated)
    sources: Dated[tuple[Source, ...]] = field(default_factory=Dated)
    care_plan: Dated[CarePlan] = field(default_factory=Dated)
    log_complete_from: Dated[bool] = field(default_factory=Dated)  # the family declares: every glucose is logged
    starting_table: str = "taught"

    def zone_now(self) -> ZoneInfo:
        """The zone that holds today (the latest)."""
        zone = self.zone.latest()
        assert zone is not None  # a person is never stored without one
        return zone

    def bands_now(self) -> tuple[TimeBand, ...]:
        return self.bands.latest() or DEFAULT_BANDS

    def sources_now(self) -> tuple[Source, ...]:
        return self.sources.latest() or ()

    def age_years(self, day: date) -> float:
        """Age on a local date, years of 365.25 days."""
        return (day - self.born).days / 365.25


def zone_on(zones: Dated[ZoneInfo], at_utc: datetime) -> ZoneInfo:
    """The zone in which an instant is read: the one that held on its day."""
    latest = zones.latest()
    assert latest is not None  # a person is never stored without one
    return zones.on_or_first(at_utc.astimezone(latest).date()) or latest


def band_there(zones: Dated[ZoneInfo], at_utc: datetime, bands: tuple[TimeBand, ...]) -> TimeBand:
    """The band that holds an instant on the clock of the place where the person was."""
    return band_at(at_utc, zone_on(zones, at_utc), bands)


def noon_there(zones: Dated[ZoneInfo], day: date) -> datetime:
    """Noon of a local day, UTC, on the clock of the place of that day. Noon is never doubled."""
    return datetime.combine(day, time(12), zones.on_or_first(day)).astimezone(UTC)
