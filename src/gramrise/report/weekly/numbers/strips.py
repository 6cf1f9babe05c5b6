"""The week's strips as numbers: trace, lows, glucose given and untreated paths, each night whole."""

from zoneinfo import ZoneInfo

import polars as pl

from gramrise.detect.trace import Trace
from gramrise.domain.bands import TimeBand
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.person import Dated
from gramrise.report.weekly.numbers.nights import Noons, night_minutes, pieces, rows_within, stretches_above, ticks
from gramrise.report.weekly.numbers.view import DoseMark, Point, Strip
from gramrise.report.weekly.settings import ReportSettings


def strip(
    noons: Noons,
    trace: Trace,
    inputs: Inputs,
    findings: Findings,
    zones: Dated[ZoneInfo],
    night: TimeBand,
    settings: ReportSettings,
) -> Strip:
    """One noon to the next; levels are held within the drawn range, minutes count from the first noon."""
    return Strip(
        from_utc=noons.from_utc,
        to_utc=noons.to_utc,
        begins=noons.begins,
        trace=pieces(trace, noons, settings.strip_lowest_mg_dl, settings.strip_highest_mg_dl),
        above=stretches_above(trace, noons, settings.strip_highest_mg_dl),
        lows=_lows(findings.lows, noons),
        doses=_doses(inputs.doses, noons),
        paths=_paths(findings.paths, noons, settings),
        night=night_minutes(noons, zones, night),
        ticks=ticks(noons, zones),
    )


def _lows(lows: pl.DataFrame, noons: Noons) -> tuple[tuple[float, float], ...]:
    """Each low's stretch within the strip; one that crosses noon is in both strips, an open one runs to the end."""
    found = []
    for start, end in lows.select("start_utc", "end_utc").rows():
        first, last = max(start, noons.from_utc), min(end or noons.to_utc, noons.to_utc)
        if first < last:
            found.append((noons.minute(first), noons.minute(last)))
    return tuple(found)


def _doses(doses: pl.DataFrame, noons: Noons) -> tuple[DoseMark, ...]:
    """Doses of one minute are one mark; its grams are unknown when any of theirs is."""
    rows = (
        rows_within(doses, "taken_at_utc", noons.from_utc, noons.to_utc)
        .group_by("taken_at_utc", maintain_order=True)
        .agg(
            pl.when(pl.col("grams").is_null().any()).then(None).otherwise(pl.col("grams").sum()).alias("grams"),
            pl.col("may_be_weaker").any(),
        )
        .sort("taken_at_utc")
    )
    return tuple(
        DoseMark(minute=noons.minute(at), grams=None if grams is None else round(grams, 3), may_be_weaker=weaker)
        for at, grams, weaker in rows.select("taken_at_utc", "grams", "may_be_weaker").rows()
    )


def _paths(paths: pl.DataFrame, noons: Noons, settings: ReportSettings) -> tuple[tuple[Point, ...], ...]:
    """The untreated path of each treatment from its first dose on, as far as it lies in the strip and its height."""
    level = pl.col("untreated_mg_dl")
    shown = rows_within(paths, "at_utc", noons.from_utc, noons.to_utc).filter(
        pl.col("at_utc") >= pl.col("first_dose_utc"),
        level.is_between(settings.strip_lowest_mg_dl, settings.strip_highest_mg_dl),
    )
    found: dict[object, list[Point]] = {}
    for first, at, untreated in shown.select("first_dose_utc", "at_utc", level).rows():
        found.setdefault(first, []).append((noons.minute(at), round(untreated, 1)))
    return tuple(tuple(points) for points in found.values())
