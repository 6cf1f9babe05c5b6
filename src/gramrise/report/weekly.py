"""The weekly report's view: everything it shows of one person, as numbers and codes."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.detect.settings import DetectSettings, shipped
from gramrise.detect.trace import Trace, trace_of
from gramrise.domain.bands import TimeBand
from gramrise.domain.batch import Question
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.frames import READINGS
from gramrise.domain.person import Person
from gramrise.domain.starting import REFERENCE_GRAMS_PER_KG
from gramrise.domain.words import State
from gramrise.estimate.lacks import band_state
from gramrise.estimate.settings import StateSettings
from gramrise.estimate.settings import shipped as shipped_estimate
from gramrise.report.asked import question_views
from gramrise.report.card_state import CardState
from gramrise.report.changes import changes
from gramrise.report.days import coverage, day
from gramrise.report.lack_view import LackView, lack_views
from gramrise.report.rows import low_rows, measured_rows, worst_first
from gramrise.report.settings import DEFAULT, ReportSettings
from gramrise.report.strips import strip
from gramrise.report.view import FactorView, PredictionCheck, WeeklyView
from gramrise.report.week import Noons, nights_to, rows_within

__all__ = ["WeeklyView", "weekly_view"]

# What the number rests on, printed with it; keys `rests.*` of the words files.
RESTS_ON: Final = ("times_and_grams", "nothing_else", "insulin", "delivery", "decision", "few_below_60")
# Cautions every output carries, in full; keys `caution.*` of the words files.
CAUTIONS: Final = (
    "not_certified",
    "cannot_swallow",
    "gel",
    "vomiting",
    "sensor",
    "look_again",
    "average",
    "automated",
    "home_mixed",
)


def weekly_view(
    inputs: Inputs,
    findings: Findings,
    *,
    week_end: date,
    now_utc: datetime,
    questions: Sequence[Question] = (),
    earlier: Findings | None = None,
    cards: tuple[CardState, ...] = (),
    settings: ReportSettings = DEFAULT,
    detect_settings: DetectSettings | None = None,
    state_settings: StateSettings | None = None,
) -> WeeklyView:
    """The seven nights that end at noon of `week_end`, on the clock of the zone that holds on that day.

    earlier   findings shown a week ago, for "what changed"; None: nothing is said of the factors' change
    cards     every card that is out, oldest first
    """
    detecting = detect_settings or shipped()
    week = _week(inputs, week_end, settings, detecting)
    start, end = week.nights[0].from_utc, week.nights[-1].to_utc
    measured = measured_rows(inputs, findings, start, end)
    rows = low_rows(rows_within(findings.lows, "start_utc", start, end), measured)
    lows, annex = worst_first(rows, settings.most_lows)
    with_low = {low.treatment.first_dose_utc for low in rows if low.treatment}
    factors = _factors(
        inputs.person,
        findings,
        end - timedelta(days=settings.single_treatments_days),
        state_settings or shipped_estimate().state,
    )
    return WeeklyView(
        **_who(inputs.person, week, week_end),
        **_parts(week, inputs, findings, now_utc, settings),
        week_end=week_end,
        from_utc=start,
        to_utc=end,
        written_at_utc=now_utc,
        as_of_utc=findings.as_of_utc,
        model_version=findings.model_version,
        factors=factors,
        changes=changes(factors, earlier, findings, week.nights, measured, settings),
        cards=cards,
        questions=question_views(questions),
        lows=lows,
        lows_annex=annex,
        given=tuple(one for one in measured if one.first_dose_utc not in with_low),
        rise_from_minutes=detecting.rise_from_minutes,
        rise_to_minutes=detecting.rise_to_minutes,
        predictions=_predictions(findings, settings),
        rests_on=RESTS_ON,
        log_next=findings.log_next,
        cautions=CAUTIONS,
    )


@dataclass(frozen=True, slots=True)
class _Week:
    """The week on one clock: that of the zone, with the bands, that hold on its last day."""

    zone: ZoneInfo
    bands: tuple[TimeBand, ...]
    night: TimeBand
    nights: tuple[Noons, ...]
    trace: Trace


def _week(inputs: Inputs, week_end: date, settings: ReportSettings, detect_settings: DetectSettings) -> _Week:
    person = inputs.person
    zone = person.zone.on_or_first(week_end)
    assert zone is not None  # a person is never stored without one
    bands = person.bands.on_or_first(week_end) or person.bands_now()
    night = next(band for band in bands if band.holds(time(settings.night_hour)))
    nights = nights_to(week_end, zone)
    margin = timedelta(days=1)  # the usual step looks at the neighbouring days
    near = nights[0].from_utc - margin, nights[-1].to_utc + margin
    trace = trace_of(READINGS.check(rows_within(inputs.readings, "at_utc", *near)), detect_settings)
    return _Week(zone, bands, night, nights, trace)


def _who(person: Person, week: _Week, week_end: date) -> dict[str, Any]:
    """Whose report it is, and what holds for them on the last day of the week."""
    weight = person.weights_kg.on_or_first(week_end)
    return {
        "person_id": person.person_id,
        "name": person.name,
        "language": person.language,
        "unit": str(person.unit),
        "zone": week.zone.key,
        "zone_changed": person.zone.on_or_first(week.nights[0].begins) != week.zone,
        "born": person.born,
        "age_years": round(person.age_years(week_end), 2),
        "delivery": str(person.delivery.on_or_first(week_end) or ""),
        "night_band": week.night.name,
        "night_hours": week.night.hours,
        "reference_grams": None if weight is None else round(REFERENCE_GRAMS_PER_KG * weight, 2),
    }


def _parts(
    week: _Week, inputs: Inputs, findings: Findings, now_utc: datetime, settings: ReportSettings
) -> dict[str, Any]:
    """Strips, days and coverage: what is told noon to noon."""
    days = tuple(day(noons, week.trace, inputs, findings, week.bands, week.zone, now_utc) for noons in week.nights)
    return {
        "strips": tuple(
            strip(noons, week.trace, inputs, findings, week.zone, week.night, settings) for noons in week.nights
        ),
        "days": days,
        "coverage": coverage(days, week.nights, week.trace, inputs, now_utc),
    }


def _bands_of(findings: Findings, person: Person) -> tuple[TimeBand, ...]:
    """The bands the numbers are of: those of the day they were found on; they may have changed since the week."""
    day = findings.as_of_utc.astimezone(person.zone_now()).date()
    return person.bands.on_or_first(day) or person.bands_now()


def _factors(
    person: Person, findings: Findings, singles_from_utc: datetime, states: StateSettings
) -> tuple[FactorView, ...]:
    """The latest row of each band, in the order of the person's bands; a band without one has no numbers."""
    bands = _bands_of(findings, person)
    latest = {row["band"]: row for row in findings.factors.sort("as_of_utc").to_dicts()}
    counted = (
        (pl.col("verdict") == "used") & (pl.col("factor_mg_dl_per_g") > 0) & pl.col("factor_mg_dl_per_g").is_finite()
    )
    used = findings.pairings.filter(counted, pl.col("first_dose_utc") >= singles_from_utc)
    singles = {band.name: used.filter(pl.col("band") == band.name)["factor_mg_dl_per_g"].to_list() for band in bands}
    lacks = {
        band.name: lack_views(band_state(person, findings, band.name, findings.as_of_utc, states))
        for band in bands
        if latest.get(band.name, {}).get("state") == State.THIN
    }
    return tuple(
        _factor(band, latest.get(band.name, {}), singles[band.name], lacks.get(band.name, ())) for band in bands
    )


def _factor(band: TimeBand, row: dict[str, Any], singles: list[float], lacks: tuple[LackView, ...]) -> FactorView:
    return FactorView(
        band=band.name,
        hours=band.hours,
        factor_mg_dl_per_g=row.get("factor_mg_dl_per_g"),
        p05_factor_mg_dl_per_g=row.get("p05_factor_mg_dl_per_g"),
        p95_factor_mg_dl_per_g=row.get("p95_factor_mg_dl_per_g"),
        starting_mg_dl_per_g=row.get("starting_mg_dl_per_g"),
        weight_kg=row.get("weight_kg"),
        pairings_used=row.get("pairings_used") or 0,
        state=row.get("state") or "withheld",
        lacks=lacks,
        single_mg_dl_per_g=tuple(round(one, 3) for one in singles),
    )


def _predictions(findings: Findings, settings: ReportSettings) -> PredictionCheck | None:
    judged = findings.predictions.filter(pl.col("inside").is_not_null()).sort("first_dose_utc", "minutes_after")
    counted = judged.tail(settings.predictions_counted)
    if counted.height == 0:
        return None
    return PredictionCheck(inside=int(counted["inside"].sum()), seen=counted.height)
