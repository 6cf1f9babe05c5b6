"""The days a review looks at, on one clock, with the readings, treatments and lows in them."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.detect.settings import DetectSettings
from gramrise.detect.trace import Trace, trace_of
from gramrise.domain.bands import TimeBand
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.frames import READINGS
from gramrise.report.weekly.numbers.nights import Night, rows_within
from gramrise.report.weekly.numbers.treatment_rows import low_rows, measured_rows
from gramrise.report.weekly.numbers.view import LowView, Measured
from gramrise.report.weekly.settings import ReportSettings

# A trace's usual step looks at neighbouring days, and readings two hours after a treatment belong to it.
MARGIN = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Span:
    """Local days [from_on, to_on], on the clock and with the bands of the last of them."""

    zone: ZoneInfo
    bands: tuple[TimeBand, ...]
    night: TimeBand
    from_on: date
    to_on: date
    trace: Trace
    measured: tuple[Measured, ...]
    lows: tuple[LowView, ...]

    @property
    def ends(self) -> tuple[datetime, datetime]:
        """[from, to) as instants."""
        return midnight(self.from_on, self.zone), midnight(self.to_on + timedelta(days=1), self.zone)

    def since(self, day: date) -> "Span":
        """The later part of it, from a day on; its trace stays whole."""
        start = midnight(day, self.zone)
        return Span(
            self.zone,
            self.bands,
            self.night,
            max(day, self.from_on),
            self.to_on,
            self.trace,
            tuple(one for one in self.measured if one.first_dose_utc >= start),
            tuple(low for low in self.lows if low.start_utc >= start),
        )

    def day(self, at_utc: datetime) -> date:
        return at_utc.astimezone(self.zone).date()


def midnight(day: date, zone: ZoneInfo) -> datetime:
    """The first instant of a local day, UTC."""
    return datetime.combine(day, time(), zone).astimezone(UTC)


def span_of(
    inputs: Inputs, findings: Findings, from_on: date, to_on: date, detecting: DetectSettings, report: ReportSettings
) -> Span:
    """The days from `from_on` to `to_on`, both whole."""
    person = inputs.person
    zone = person.zone.on_or_first(to_on) or person.zone_now()
    bands = person.bands.on_or_first(to_on) or person.bands_now()
    night = next(band for band in bands if band.holds(time(report.night_hour)))
    ends = midnight(from_on, zone), midnight(to_on + timedelta(days=1), zone)
    trace = trace_of(
        READINGS.check(rows_within(inputs.readings, "at_utc", ends[0] - MARGIN, ends[1] + MARGIN)), detecting
    )
    weaker = tuple(inputs.doses.filter(pl.col("may_be_weaker"))["taken_at_utc"].to_list())
    told = inputs.doses.filter(pl.col("noticed") != "").sort("taken_at_utc")
    measured = measured_rows(
        findings, trace, weaker, ends, detecting, tuple(told.select("taken_at_utc", "noticed").rows())
    )
    found = low_rows(rows_within(findings.lows, "start_utc", *ends), measured, trace, Night(person.zone, night), report)
    lows = tuple(low.model_copy(update={"noticed_by": _noticed_by(low)}) for low in found)
    return Span(zone, bands, night, from_on, to_on, trace, measured, lows)


def _noticed_by(low: LowView) -> str | None:
    """Who noticed a low, by the log of the glucose given for it; None where it does not tell."""
    told = low.treatment.noticed if low.treatment else ()
    return "child" if "child" in told else told[0] if told else None
