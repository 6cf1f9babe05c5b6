"""The week day by day: grams of glucose, lows, and how much of the time the readings cover."""

from datetime import datetime

import polars as pl

from gramrise.detect.trace import Trace
from gramrise.domain.bands import TimeBand
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.person import band_there
from gramrise.report.weekly.numbers.nights import Noons, covered, readings_n, rows_within, usual_step_minutes
from gramrise.report.weekly.numbers.view import BandGrams, Coverage, Day


def day(
    noons: Noons,
    trace: Trace,
    inputs: Inputs,
    findings: Findings,
    bands: tuple[TimeBand, ...],
    now_utc: datetime,
) -> Day:
    """One noon to the next in numbers, coverage as far as it has passed; amounts not known are counted, not summed."""
    doses = rows_within(inputs.doses, "taken_at_utc", noons.from_utc, noons.to_utc)
    by_band = {band.name: 0.0 for band in bands}
    for at, grams in doses.select("taken_at_utc", "grams").rows():
        by_band[band_there(inputs.person.zone, at, bands).name] += grams or 0.0
    share, gap = covered(trace, noons.until(now_utc))
    return Day(
        begins=noons.begins,
        grams=round(sum(by_band.values()), 3),
        grams_by_band=tuple(
            BandGrams(band=band.name, hours=band.hours, grams=round(by_band[band.name], 3)) for band in bands
        ),
        amounts_unknown_n=doses["grams"].null_count(),
        lows_n=rows_within(findings.lows, "start_utc", noons.from_utc, noons.to_utc).height,
        covered=share,
        longest_gap_minutes=gap,
    )


def coverage(
    days: tuple[Day, ...], nights: tuple[Noons, ...], trace: Trace, inputs: Inputs, now_utc: datetime
) -> Coverage:
    """The week as a whole; each day weighs by the time of it that has passed."""
    passed = [noons.until(now_utc).minutes for noons in nights]
    stands = sum(one.covered * minutes for one, minutes in zip(days, passed, strict=True))
    week = nights[0].from_utc, nights[-1].to_utc
    events = rows_within(inputs.events, "at_utc", *week)
    return Coverage(
        covered=round(stands / sum(passed), 4) if sum(passed) else 0.0,
        readings_n=sum(readings_n(trace, noons) for noons in nights),
        usual_step_minutes=usual_step_minutes(trace, nights),
        fingers_n=rows_within(inputs.fingers, "at_utc", *week).height,
        insulin_logged=events.filter(pl.col("kind") == "insulin").height > 0,
    )
