"""Treatments: doses chained with under 60 minutes between neighbours, and what each was for."""

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import polars as pl

from gramrise.detect.lows import Ending, LowEvents
from gramrise.detect.settings import DetectSettings
from gramrise.detect.trace import US_PER_MINUTE, Flags, Instants, Numbers, instants
from gramrise.domain.bands import DEFAULT_BANDS, band_at
from gramrise.domain.frames import TREATMENTS
from gramrise.domain.person import Person, zone_on
from gramrise.domain.words import TreatmentClass

NONE = -1


@dataclass(frozen=True, slots=True)
class Chains:
    """Doses in order of time and the treatments they form.

    taken_us     instant of each dose, shape (d,)
    first, past  rows of each treatment's first dose and of the dose after its last, shape (t,)
    """

    taken_us: Instants
    first: Instants
    past: Instants

    def __len__(self) -> int:
        return len(self.first)

    @property
    def first_us(self) -> Instants:
        return self.taken_us[self.first]

    @property
    def last_us(self) -> Instants:
        return self.taken_us[self.past - 1]


def chain_doses(doses: pl.DataFrame, settings: DetectSettings) -> Chains:
    """Every dose of one person's DOSES in exactly one chain."""
    taken_us = instants(doses["taken_at_utc"])
    begins = np.ones(len(taken_us), dtype=np.bool_)
    begins[1:] = np.diff(taken_us) >= int(settings.chain_minutes * US_PER_MINUTE)
    first = np.flatnonzero(begins)
    past = np.append(first[1:], len(taken_us)).astype(np.int64)[: len(first)]
    return Chains(taken_us, first, past)


def low_of(at_us: Instants, lows: LowEvents, settings: DetectSettings) -> Instants:
    """Row of the low an instant belongs to: the one it falls in, else one starting within 30 minutes; -1 for none.

    A low still open reaches on to whatever is logged after its start.
    """
    if len(lows) == 0:
        return np.full(len(at_us), NONE, dtype=np.int64)
    ends = np.where(lows.ending == Ending.OPEN, np.iinfo(np.int64).max, lows.end_us)
    begun = np.searchsorted(lows.start_us, at_us, "right") - 1
    inside = (begun >= 0) & (at_us < ends[np.maximum(begun, 0)])
    coming = np.minimum(begun + 1, len(lows) - 1)
    wait = lows.start_us[coming] - at_us
    soon = (begun + 1 < len(lows)) & (wait <= int(settings.before_low_minutes * US_PER_MINUTE))
    return np.where(inside, begun, np.where(soon, coming, NONE)).astype(np.int64)


def classes(
    low: Instants, start_seen_mg_dl: Numbers, change_mg_dl_per_min: Numbers, settings: DetectSettings
) -> list[TreatmentClass]:
    """Class of each treatment from the low of its first dose and what the trace did just before."""
    early: Flags = (start_seen_mg_dl >= settings.low_mg_dl) & (change_mg_dl_per_min <= -settings.falling_mg_dl_per_min)
    return [
        TreatmentClass.FOR_LOW if at >= 0 else TreatmentClass.GIVEN_EARLY if fell else TreatmentClass.OTHER
        for at, fell in zip(low, early, strict=True)
    ]


def band_name(person: Person, at_utc: datetime) -> str:
    """The time band that holds an instant, by the zone and bands that held on that day."""
    zone = zone_on(person.zone, at_utc)
    day = at_utc.astimezone(zone).date()
    return band_at(at_utc, zone, person.bands.on_or_first(day) or DEFAULT_BANDS).name


def treatments_frame(
    person: Person, doses: pl.DataFrame, chains: Chains, kinds: list[TreatmentClass], low: Instants, lows: LowEvents
) -> pl.DataFrame:
    """TREATMENTS, one row a chain."""
    if len(chains) == 0:
        return TREATMENTS.empty()
    grams, sources, forms = (doses[name].to_list() for name in ("grams", "source", "form"))
    rows = []
    for nth, (first, past) in enumerate(zip(chains.first.tolist(), chains.past.tolist(), strict=True)):
        given, formed = grams[first:past], set(forms[first:past])
        rows.append(
            {
                "person_id": person.person_id,
                "first_dose_utc": instant(chains.taken_us[first]),
                "last_dose_utc": instant(chains.taken_us[past - 1]),
                "class": str(kinds[nth]),
                "doses_n": past - first,
                "grams": None if None in given else float(sum(given)),
                "sources": list(dict.fromkeys(sources[first:past])),
                "form": forms[first] if len(formed) == 1 else "mixed",
                "band": band_name(person, instant(chains.taken_us[first])),
                "low_start_utc": instant(lows.start_us[low[nth]]) if low[nth] >= 0 else None,
            }
        )
    return pl.DataFrame(rows, schema=TREATMENTS.schema)


def instant(at_us: int | np.int64) -> datetime:
    """An aware UTC datetime from microseconds since 1970, exactly."""
    seconds, micros = divmod(int(at_us), 1_000_000)
    return datetime.fromtimestamp(seconds, UTC).replace(microsecond=micros)
