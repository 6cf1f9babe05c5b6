"""The weekly report's view: everything it shows of one person, as numbers and codes."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Any, Final

import polars as pl

from gramrise.detect.settings import DetectSettings, shipped
from gramrise.detect.trace import trace_of
from gramrise.domain.bands import TimeBand
from gramrise.domain.batch import Question
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.frames import READINGS
from gramrise.domain.starting import REFERENCE_GRAMS_PER_KG
from gramrise.report.asked import question_views
from gramrise.report.card_state import CardState
from gramrise.report.changes import changes
from gramrise.report.days import coverage, day
from gramrise.report.rows import low_rows, measured_rows, worst_first
from gramrise.report.settings import DEFAULT, ReportSettings
from gramrise.report.strips import strip
from gramrise.report.view import FactorView, PredictionCheck, WeeklyView
from gramrise.report.week import nights_to, rows_within

__all__ = ["WeeklyView", "weekly_view"]

# DESIGN section 5: what the number rests on, printed with it; keys `rests.*` of the words files.
RESTS_ON: Final = ("times_and_grams", "nothing_else", "insulin", "delivery", "decision", "few_below_60")
# DESIGN section 7: cautions every output carries, in full; keys `caution.*` of the words files.
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
    card: CardState | None = None,
    settings: ReportSettings = DEFAULT,
    detect_settings: DetectSettings | None = None,
) -> WeeklyView:
    """The seven nights that end at noon of `week_end`, on the clock of the zone that holds on that day.

    earlier   findings shown a week ago, for "what changed"; None: nothing is said of the factors' change
    card      the card in the family's hands; None: none was made
    """
    person = inputs.person
    zone = person.zone.on_or_first(week_end)
    bands = person.bands.on_or_first(week_end) or person.bands_now()
    assert zone is not None  # a person is never stored without one
    nights = nights_to(week_end, zone)
    start, end = nights[0].from_utc, nights[-1].to_utc
    margin = timedelta(days=1)  # the usual step looks at the neighbouring days
    near = rows_within(READINGS.check(inputs.readings), "at_utc", start - margin, end + margin)
    trace = trace_of(near, detect_settings or shipped())
    night = _night_band(bands, settings.night_hour)
    measured = measured_rows(inputs, findings, start, end)
    lows, annex = worst_first(
        low_rows(rows_within(findings.lows, "start_utc", start, end), measured), settings.most_lows
    )
    with_low = {low.treatment.first_dose_utc for low in (*lows, *annex) if low.treatment}
    days = tuple(day(noons, trace, inputs, findings, bands, zone, now_utc) for noons in nights)
    factors = _factors(findings, bands, end - timedelta(days=settings.single_treatments_days))
    weight = person.weights_kg.on_or_first(week_end)
    return WeeklyView(
        person_id=person.person_id,
        name=person.name,
        language=person.language,
        unit=str(person.unit),
        zone=zone.key,
        zone_changed=person.zone.on_or_first(nights[0].begins) != zone,
        week_end=week_end,
        from_utc=start,
        to_utc=end,
        written_at_utc=now_utc,
        as_of_utc=findings.as_of_utc,
        model_version=findings.model_version,
        age_years=round(person.age_years(week_end), 2),
        delivery=str(person.delivery.on_or_first(week_end) or ""),
        night_band=night.name,
        reference_grams=None if weight is None else round(REFERENCE_GRAMS_PER_KG * weight, 2),
        factors=factors,
        changes=changes(factors, earlier, findings, nights, measured, settings),
        card=card,
        questions=question_views(questions),
        strips=tuple(strip(noons, trace, inputs, findings, zone, night, settings) for noons in nights),
        lows=lows,
        lows_annex=annex,
        given=tuple(one for one in measured if one.first_dose_utc not in with_low),
        days=days,
        coverage=coverage(days, nights, trace, inputs, now_utc),
        predictions=_predictions(findings, settings),
        rests_on=RESTS_ON,
        log_next=findings.log_next,
        cautions=CAUTIONS,
    )


def _night_band(bands: tuple[TimeBand, ...], night_hour: int) -> TimeBand:
    return next(band for band in bands if band.holds(time(night_hour)))


def _factors(findings: Findings, bands: tuple[TimeBand, ...], singles_from_utc: datetime) -> tuple[FactorView, ...]:
    """The latest row of each band, in the order of the person's bands; a band without one has no numbers."""
    latest = {row["band"]: row for row in findings.factors.sort("as_of_utc").to_dicts()}
    counted = (pl.col("verdict") == "used") & (pl.col("factor_mg_dl_per_g") > 0)
    used = findings.pairings.filter(counted, pl.col("first_dose_utc") >= singles_from_utc)
    singles = {band.name: used.filter(pl.col("band") == band.name)["factor_mg_dl_per_g"].to_list() for band in bands}
    return tuple(_factor(band, latest.get(band.name, {}), singles[band.name]) for band in bands)


def _factor(band: TimeBand, row: dict[str, Any], singles: list[float]) -> FactorView:
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
        single_mg_dl_per_g=tuple(round(one, 3) for one in singles),
    )


def _predictions(findings: Findings, settings: ReportSettings) -> PredictionCheck | None:
    judged = findings.predictions.filter(pl.col("inside").is_not_null()).sort("first_dose_utc", "minutes_after")
    counted = judged.tail(settings.predictions_counted)
    if counted.height == 0:
        return None
    return PredictionCheck(inside=int(counted["inside"].sum()), seen=counted.height)
