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
from gramrise.estimate import StateSettings, estimate_settings
from gramrise.report.weekly.numbers.card_state import CardState
from gramrise.report.weekly.numbers.changes import changes
from gramrise.report.weekly.numbers.days import coverage, day
from gramrise.report.weekly.numbers.factor_views import factor_views
from gramrise.report.weekly.numbers.nights import Night, Noons, nights_to, rows_within
from gramrise.report.weekly.numbers.questions import question_views
from gramrise.report.weekly.numbers.strips import strip
from gramrise.report.weekly.numbers.supplies_view import SuppliesWeek, supplies_view
from gramrise.report.weekly.numbers.team import worth_telling
from gramrise.report.weekly.numbers.treatment_rows import low_rows, measured_rows, other_given, worst_first
from gramrise.report.weekly.numbers.view import (
    Coverage,
    Day,
    GivenWeek,
    Measured,
    PredictionCheck,
    SetAside,
    Strip,
    WeeklyView,
    ZoneFrom,
)
from gramrise.report.weekly.settings import DEFAULT, ReportSettings

__all__ = ["WeeklyView", "weekly_view"]

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
    files_held: int = 0,
    set_aside: Sequence[tuple[str, int]] = (),
    earlier: Findings | None = None,
    cards: Sequence[CardState] = (),
    supplies: SuppliesWeek | None = None,
    settings: ReportSettings = DEFAULT,
    detect_settings: DetectSettings | None = None,
    state_settings: StateSettings | None = None,
) -> WeeklyView:
    """The seven nights that end at noon of `week_end`, each on the clock of the place where the person was.

    files_held  files of the person that wait, of which nothing counts
    set_aside   files taken in since the week began of which lines count nowhere: their name, and how many lines
    earlier     findings shown a week ago, for "what changed"; None: nothing is said of the factors' change
    cards       every card that is out, by number
    supplies    what was counted, mixed and judged; None: the report says nothing of supplies
    """
    detecting = detect_settings or shipped()
    week = _week(inputs, week_end, settings, detecting)
    start, end = week.nights[0].from_utc, week.nights[-1].to_utc
    doses = rows_within(inputs.doses, "taken_at_utc", start, end)
    measured = measured_rows(findings, week.trace, _weaker_at(inputs), (start, end), detecting, _noticed_at(inputs))
    found = rows_within(findings.lows, "start_utc", start, end)
    rows = low_rows(found, measured, week.trace, Night(inputs.person.zone, week.night), settings)
    lows, annex = worst_first(rows, settings.most_lows)
    since = end - timedelta(days=settings.single_treatments_days)
    factors = factor_views(findings, inputs.person, since, state_settings or estimate_settings().state)
    parts = _parts(week, inputs, findings, now_utc, settings)
    return WeeklyView(
        **_who(inputs.person, week, week_end),
        **parts,
        week_end=week_end,
        from_utc=start,
        to_utc=end,
        written_at_utc=now_utc,
        as_of_utc=findings.as_of_utc,
        model_version=findings.model_version,
        factors=factors,
        changes=changes(factors, earlier, findings, inputs.readings, week.nights, settings),
        cards=tuple(sorted(cards, key=lambda card: card.number)),
        questions=question_views(questions),
        files_held=files_held,
        set_aside=tuple(SetAside(file=file, lines=lines) for file, lines in set_aside),
        team=worth_telling(rows),
        prolonged_minutes=detecting.prolonged_minutes,
        given_week=_given_week(parts["strips"], parts["days"], measured),
        weaker_sources=tuple(sorted(set(doses.filter(pl.col("may_be_weaker"))["source"].to_list()))),
        lows=lows,
        lows_annex=annex,
        given=other_given(measured, rows),
        rise_from_minutes=detecting.rise_from_minutes,
        rise_to_minutes=detecting.rise_to_minutes,
        predictions=_predictions(findings, settings),
        rests_on=tuple(_rests_on(parts["coverage"], bool(doses["may_be_weaker"].any()))),
        log_next=findings.log_next,
        cautions=CAUTIONS,
        supplies=None if supplies is None else supplies_view(inputs, supplies, week_end, week.zone, settings),
    )


@dataclass(frozen=True, slots=True)
class _Week:
    """The week with the zone and the bands that hold on its last day."""

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
    nights = nights_to(week_end, person.zone)
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
        "zones": _zones(person, week.nights[0].begins, week_end),
        "born": person.born,
        "age_years": round(person.age_years(week_end), 2),
        "delivery": str(person.delivery.on_or_first(week_end) or ""),
        "night_band": week.night.name,
        "night_hours": week.night.hours,
        "reference_grams": None if weight is None else round(REFERENCE_GRAMS_PER_KG * weight, 2),
    }


def _zones(person: Person, first: date, last: date) -> tuple[ZoneFrom, ...]:
    """The zones of the week's days, in order."""
    changes = [(day, zone) for day, zone in person.zone.entries if first < day <= last]
    begins = person.zone.on_or_first(first)
    assert begins is not None  # a person is never stored without one
    return tuple(ZoneFrom(from_on=day, zone=zone.key) for day, zone in [(first, begins), *changes])


def _parts(
    week: _Week, inputs: Inputs, findings: Findings, now_utc: datetime, settings: ReportSettings
) -> dict[str, Any]:
    """Strips, days and coverage: what is told noon to noon."""
    zones = inputs.person.zone
    days = tuple(day(noons, week.trace, inputs, findings, week.bands, now_utc) for noons in week.nights)
    return {
        "strips": tuple(
            strip(noons, week.trace, inputs, findings, zones, week.night, settings) for noons in week.nights
        ),
        "days": days,
        "coverage": coverage(days, week.nights, week.trace, inputs, now_utc),
    }


def _weaker_at(inputs: Inputs) -> tuple[datetime, ...]:
    """Instants of doses that may hold 9 % less than printed."""
    return tuple(at for (at,) in inputs.doses.filter(pl.col("may_be_weaker")).select("taken_at_utc").rows())


def _noticed_at(inputs: Inputs) -> tuple[tuple[datetime, str], ...]:
    """Instants of doses with who noticed that they were needed, where somebody said so."""
    told = inputs.doses.filter(pl.col("noticed") != "").sort("taken_at_utc")
    return tuple(told.select("taken_at_utc", "noticed").rows())


def _given_week(strips: tuple[Strip, ...], days: tuple[Day, ...], measured: tuple[Measured, ...]) -> GivenWeek:
    return GivenWeek(
        times_n=sum(len(strip.doses) for strip in strips),
        grams=round(sum(day.grams for day in days), 3),
        treatments_n=len(measured),
        used_n=sum(one.verdict == "used" for one in measured),
        above_180_n=sum(one.above_180_within_2h for one in measured),
    )


def _rests_on(coverage: Coverage, some_weaker: bool) -> list[str]:
    """What the number rests on, printed with it; keys `rests.*` of the words files."""
    insulin = "insulin" if coverage.insulin_logged else "no_insulin"
    found = ["times_and_grams", "nothing_else", insulin, "delivery", "decision", "few_below_60"]
    return [*found, "may_be_weaker"] if some_weaker else found


def _predictions(findings: Findings, settings: ReportSettings) -> PredictionCheck | None:
    judged = findings.predictions.filter(pl.col("inside").is_not_null()).sort("first_dose_utc", "minutes_after")
    counted = judged.tail(settings.predictions_counted)
    if counted.height == 0:
        return None
    return PredictionCheck(inside=int(counted["inside"].sum()), seen=counted.height)
