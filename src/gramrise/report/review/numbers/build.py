"""A person's review from their stored inputs, findings, sign-offs and drift."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any, Final

import polars as pl

from gramrise.detect.settings import DetectSettings
from gramrise.detect.settings import shipped as shipped_detect
from gramrise.domain.batch import Question
from gramrise.domain.findings import Findings, Inputs
from gramrise.estimate import StateSettings, WeekLevel, estimate_settings
from gramrise.report.review.numbers.course import courses_of
from gramrise.report.review.numbers.dangers import dangers_in
from gramrise.report.review.numbers.happened import happened_in, weeks_in
from gramrise.report.review.numbers.pairs import paired
from gramrise.report.review.numbers.sign_offs import standing
from gramrise.report.review.numbers.span import Span, span_of
from gramrise.report.review.numbers.view import DriftLine, PersonReview, Shown, SignOff
from gramrise.report.review.numbers.visit import visit_of
from gramrise.report.review.settings import DEFAULT, ReviewSettings
from gramrise.report.weekly.numbers.build import CAUTIONS
from gramrise.report.weekly.numbers.card_state import CardState
from gramrise.report.weekly.numbers.factor_views import factor_views
from gramrise.report.weekly.settings import DEFAULT as REPORT_DEFAULT
from gramrise.report.weekly.settings import ReportSettings

# What each night kept of a number (`store.shown`), as far as a review shows it.
SHOWN_COLUMNS: Final = ("shown_at", "band", "factor_mg_dl_per_g", "p05_factor_mg_dl_per_g", "p95_factor_mg_dl_per_g",
                        "pairings_used", "state", "model_version")  # fmt: skip


@dataclass(frozen=True, slots=True)
class ReviewKnown:
    """What a review is made from beside inputs and findings.

    shown      what past nights showed, oldest first; columns as the store keeps them
    sign_offs  all of the person, the latest first
    drift      one line a signed band
    levels     the course of the number week by week
    """

    shown: pl.DataFrame | None = None
    sign_offs: tuple[SignOff, ...] = ()
    drift: tuple[DriftLine, ...] = ()
    levels: Sequence[WeekLevel] = ()
    cards: tuple[CardState, ...] = ()
    questions: tuple[Question, ...] = ()
    settings: ReviewSettings = DEFAULT
    report: ReportSettings = REPORT_DEFAULT
    detect: DetectSettings = field(default_factory=shipped_detect)
    states: StateSettings = field(default_factory=lambda: estimate_settings().state)


def person_review(inputs: Inputs, findings: Findings, now_utc: datetime, known: ReviewKnown) -> PersonReview:
    """Everything the clinic sees of one person, up to the last day with data."""
    settings, person = known.settings, inputs.person
    last_reading = inputs.readings["at_utc"].max()
    told = last_reading if isinstance(last_reading, datetime) else now_utc
    data_on = told.astimezone(person.zone_now()).date()
    begun = _first_day(inputs)
    signed = standing(known.sign_offs)
    unsigned_from = max(begun or data_on, data_on - timedelta(days=settings.unsigned_days - 1))
    pairings_from = min(signed.as_of, data_on) if signed else unsigned_from
    course_from = data_on - timedelta(weeks=settings.course_weeks)
    visit_from = max(begun or data_on, data_on - timedelta(days=settings.visit_days - 1))
    # The course runs back to the reference even where that is older than what is drawn otherwise.
    whole_from = min(pairings_from, course_from, visit_from)
    whole = span_of(inputs, findings, whole_from, data_on, known.detect, known.report)
    visit = whole.since(visit_from)
    shown = _shown(known.shown)
    pairs = paired(
        whole.since(pairings_from),
        inputs,
        findings,
        [(s.at_utc, s.band, s.factor_mg_dl_per_g) for s in shown],
        settings,
    )
    return PersonReview(
        **_who(inputs, findings, now_utc, data_on, whole, known),
        last_reading_utc=last_reading if isinstance(last_reading, datetime) else None,
        dangers=dangers_in(whole.since(data_on - timedelta(days=settings.danger_days - 1))),
        factors=factor_views(findings, person, _singles_from(findings, known), known.states),
        drift=known.drift,
        signed=signed,
        sign_offs=known.sign_offs,
        courses=courses_of(
            person, findings, whole.bands, known.levels, signed, known.drift, min(course_from, pairings_from), data_on
        ),
        happened=happened_in(whole.since(min(course_from, pairings_from)), inputs),
        weeks=weeks_in(replace(whole, from_on=min(course_from, pairings_from)), inputs, findings),
        pairings=pairs,
        pairings_from_on=pairings_from,
        shown=_one_a_week(shown, settings.most_shown),
        visit=visit_of(visit, inputs, known.questions),
        cards=tuple(sorted(known.cards, key=lambda card: card.number)),
        rests_on=_rests_on(inputs, visit),
        cautions=CAUTIONS,
    )


def _who(
    inputs: Inputs, findings: Findings, now_utc: datetime, data_on: date, span: Span, known: ReviewKnown
) -> dict[str, Any]:
    """Whose review it is, and what holds for them on the last day with data."""
    person, settings = inputs.person, known.settings
    known_kg = person.weights_kg.entries
    weighed = [(on, kg) for on, kg in known_kg if on <= data_on] or list(known_kg[:1])
    return {
        "person_id": person.person_id,
        "name": person.name,
        "language": person.language,
        "unit": str(person.unit),
        "zone": span.zone.key,
        "born": person.born,
        "age_years": round(person.age_years(data_on), 2),
        "weight_kg": person.weights_kg.on_or_first(data_on),
        "weighed_on": weighed[-1][0] if weighed else None,
        "delivery": str(person.delivery.on_or_first(data_on) or ""),
        "written_at_utc": now_utc,
        "as_of_utc": findings.as_of_utc,
        "model_version": findings.model_version,
        "data_on": data_on,
        "night_band": span.night.name,
        "night_hours": span.night.hours,
        "trace_from_minutes": float(-settings.trace_before_minutes),
        "trace_to_minutes": float(settings.trace_after_minutes),
        "trace_lowest_mg_dl": settings.trace_lowest_mg_dl,
        "trace_highest_mg_dl": settings.trace_highest_mg_dl,
        "prolonged_minutes": known.detect.prolonged_minutes,
    }


def _first_day(inputs: Inputs) -> date | None:
    """The local day of the first reading or glucose given; None without any."""
    firsts = [inputs.readings["at_utc"].min(), inputs.doses["taken_at_utc"].min()]
    known = [first for first in firsts if isinstance(first, datetime)]
    return min(known).astimezone(inputs.person.zone_now()).date() if known else None


def _singles_from(findings: Findings, known: ReviewKnown) -> datetime:
    return findings.as_of_utc - timedelta(days=known.report.single_treatments_days)


def _shown(frame: pl.DataFrame | None) -> tuple[Shown, ...]:
    """What nights showed, oldest first."""
    if frame is None or frame.height == 0:
        return ()
    rows = frame.sort("shown_at").select(SHOWN_COLUMNS).rows()
    names = ("at_utc", "band", "factor_mg_dl_per_g", "p05_mg_dl_per_g", "p95_mg_dl_per_g", "pairings_used", "state",
             "model_version")  # fmt: skip
    return tuple(Shown(**dict(zip(names, row, strict=True))) for row in rows)


def _one_a_week(shown: tuple[Shown, ...], most: int) -> tuple[Shown, ...]:
    """The latest night, and of each week before it the last one; the latest first, all bands of a night together."""
    nights = sorted({one.at_utc for one in shown}, reverse=True)
    kept: list[datetime] = []
    for at in nights:
        if not kept or kept[-1] - at >= timedelta(days=7):
            kept.append(at)
    chosen = kept[:most]
    return tuple(one for at in chosen for one in shown if one.at_utc == at)


def _rests_on(inputs: Inputs, visit: Span) -> tuple[str, ...]:
    """What the number rests on, printed with it; keys `rests.*` of the words."""
    start, end = visit.ends
    logged = inputs.events.filter(pl.col("kind") == "insulin", pl.col("at_utc") >= start, pl.col("at_utc") < end)
    insulin = "insulin" if logged.height else "no_insulin"
    return ("times_and_grams", "nothing_else", insulin, "delivery", "decision", "few_below_60")
