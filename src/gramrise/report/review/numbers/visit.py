"""The page before the visit: the last months as a nurse needs them, worst first."""

from statistics import median
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.domain.batch import Question
from gramrise.domain.findings import Inputs
from gramrise.domain.person import Dated, band_there
from gramrise.report.review.numbers.dangers import dangers_in, gravest_first
from gramrise.report.review.numbers.happened import covered_between, longest_gap_hours
from gramrise.report.review.numbers.span import Span
from gramrise.report.review.numbers.view import GivenBand, Note, Visit
from gramrise.report.weekly.numbers.questions import question_views

NOTED = ("note", "illness")


def visit_of(span: Span, inputs: Inputs, questions: tuple[Question, ...]) -> Visit:
    """The span as one page."""
    start, end = span.ends
    doses = inputs.doses.filter(pl.col("taken_at_utc") >= start, pl.col("taken_at_utc") < end)
    notes = inputs.events.filter(
        pl.col("kind").is_in(NOTED), pl.col("text") != "", pl.col("at_utc") >= start, pl.col("at_utc") < end
    )
    days = (span.to_on - span.from_on).days + 1
    return Visit(
        from_on=span.from_on,
        to_on=span.to_on,
        days_n=days,
        dangerous=gravest_first(span.lows),
        dangers=dangers_in(span),
        lows_n=len(span.lows),
        lows_by_night_n=sum(low.by_night for low in span.lows),
        given=_given(span, inputs.person.zone, doses, days),
        amounts_unknown_n=doses["grams"].null_count(),
        treatments_n=len(span.measured),
        second_amounts_n=sum(low.second_amount for low in span.lows),
        above_180_n=sum(one.above_180_within_2h for one in span.measured),
        covered=covered_between(span.trace, start, end),
        longest_gap_hours=longest_gap_hours(span.trace, start, end),
        nothing_logged_n=sum(low.nothing_logged for low in span.lows),
        questions=question_views(questions),
        notes=tuple(
            Note(at_utc=row["at_utc"], kind=row["kind"], text=row["text"])
            for row in notes.sort("at_utc", descending=True).iter_rows(named=True)
        ),
    )


def _given(span: Span, zones: Dated[ZoneInfo], doses: pl.DataFrame, days: int) -> tuple[GivenBand, ...]:
    """Grams by band; a band is that of each amount, a treatment's that of its first."""
    rows = doses.select("taken_at_utc", "grams").rows()
    at = [(band_there(zones, given_at, span.bands).name, grams) for given_at, grams in rows]
    found = []
    for band in span.bands:
        grams = [given for name, given in at if name == band.name and given is not None]
        mine = [one for one in span.measured if band_there(zones, one.first_dose_utc, span.bands) == band]
        amounts = [one.grams for one in mine if one.grams is not None]
        found.append(
            GivenBand(
                band=band.name,
                hours=band.hours,
                grams_a_day=round(sum(grams) / days, 2),
                times_n=sum(name == band.name for name, _ in at),
                median_grams=round(median(amounts), 2) if amounts else None,
                treatments_n=len(mine),
                above_180_n=sum(one.above_180_within_2h for one in mine),
            )
        )
    return tuple(found)
