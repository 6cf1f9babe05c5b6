"""What changed since the week before: codes and numbers; the sentences stand in the words files under `change.*`."""

from datetime import timedelta

import polars as pl

from gramrise.domain.findings import Findings
from gramrise.report.weekly.numbers.nights import NIGHTS, Noons, rows_within
from gramrise.report.weekly.numbers.view import Change, FactorView
from gramrise.report.weekly.settings import ReportSettings


def changes(
    factors: tuple[FactorView, ...],
    earlier: Findings | None,
    findings: Findings,
    readings: pl.DataFrame,
    nights: tuple[Noons, ...],
    settings: ReportSettings,
) -> tuple[Change, ...]:
    """The factors against `earlier`, then the lows against the week before. `readings`: READINGS of both weeks."""
    found = [] if earlier is None else _moved(factors, earlier, settings)
    found.append(_lows(findings, readings, nights, settings))
    return tuple(found)


def _moved(factors: tuple[FactorView, ...], earlier: Findings, settings: ReportSettings) -> list[Change]:
    before = dict(earlier.factors.sort("as_of_utc").select("band", "factor_mg_dl_per_g").rows())
    found = []
    for factor in factors:
        was, now = before.get(factor.band), factor.factor_mg_dl_per_g
        if was is None or now is None:
            continue
        same = abs(now / was - 1) < settings.least_change
        code = "as_before" if same else "raises_more" if now > was else "raises_less"
        found.append(Change(code=code, band=factor.band, before=was, now=now))
    return found


def _lows(findings: Findings, readings: pl.DataFrame, nights: tuple[Noons, ...], settings: ReportSettings) -> Change:
    """Lows of this week and, where any reading of it led to findings and it was seen as long, of the week before."""
    start, end = nights[0].from_utc, nights[-1].to_utc
    before = start - timedelta(days=NIGHTS)
    now = rows_within(findings.lows, "start_utc", start, end).height
    week_before = rows_within(findings.lows, "start_utc", before, start).height
    ever_before = findings.lows.filter(pl.col("start_utc") < start).height > 0
    seen = sorted(rows_within(readings, "at_utc", *span).height for span in ((before, start), (start, end)))
    alike = seen[0] >= settings.compared_from_share * seen[1]
    return Change(code="lows", before=float(week_before) if ever_before and alike else None, now=float(now))
