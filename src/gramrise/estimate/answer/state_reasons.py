"""Why a band's number is or is not the person's own, from what was found: one answer for screen, report and card."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import inf
from typing import Any

import polars as pl

from gramrise.domain.findings import Findings
from gramrise.domain.frames import FACTORS
from gramrise.domain.person import Person
from gramrise.domain.reasons import Verdict
from gramrise.domain.words import State
from gramrise.estimate.answer.state_rules import BandEvidence, Lack, lacks_of, withheld_because
from gramrise.estimate.levels import Bands
from gramrise.estimate.settings import StateSettings


@dataclass(frozen=True, slots=True)
class BandState:
    """The state of one band and its reasons: `withheld` codes where nothing may be said, `lacks` where it is thin."""

    state: State
    withheld: tuple[str, ...] = ()
    lacks: tuple[Lack, ...] = ()


def band_state(person: Person, found: Findings, band: str, at_utc: datetime, settings: StateSettings) -> BandState:
    """The state of a band at an instant, which may be later than the findings: what ages with time is asked again."""
    day = at_utc.astimezone(person.zone_now()).date()
    withheld = withheld_because(person, day, settings)
    if withheld:
        return BandState(State.WITHHELD, withheld)
    row = factor_row(found, band)
    if row is not None and row["state"] == State.WITHHELD:
        return BandState(State.WITHHELD, ("estimate",))
    lacks = lacks_of(person, day, _evidence(person, found, band, row, at_utc, settings), settings)
    if not lacks and (row is None or row["state"] != State.OWN):
        lacks = (Lack("new_findings"),)  # what was found is not overruled: it must be found anew
    return BandState(State.THIN if lacks else State.OWN, (), lacks)


def factor_row(found: Findings, band: str) -> dict[str, Any] | None:
    """The newest row of FACTORS of a band; None where there is none."""
    mine = FACTORS.check(found.factors).filter(pl.col("band") == band).sort("as_of_utc")
    return mine.row(-1, named=True) if mine.height else None


def _evidence(
    person: Person,
    found: Findings,
    band: str,
    row: dict[str, Any] | None,
    at_utc: datetime,
    settings: StateSettings,
) -> BandEvidence:
    """As the estimate weighs it: only used pairings with a number of their own, filed by the present bands."""
    measured = pl.col("factor_mg_dl_per_g").is_not_null() & pl.col("weight_kg").is_not_null()
    used = Bands.of(person).filed(person, found.pairings.filter(pl.col("verdict") == Verdict.USED, measured))
    first = used.filter(pl.col("band") == band)["first_dose_utc"]
    low, high = (None, None) if row is None else (row["p05_factor_mg_dl_per_g"], row["p95_factor_mg_dl_per_g"])
    return BandEvidence(
        used_dates=[at.astimezone(person.zone_now()).date() for at in first],
        interval_ratio=high / low if low and high else inf,
        predictions=found.predictions.filter(pl.col("first_dose_utc").is_in(first.implode())),
        unnoticed_low=found.unnoticed_low_utc is not None
        and found.unnoticed_low_utc > at_utc - timedelta(days=settings.unnoticed_within_days),
    )
