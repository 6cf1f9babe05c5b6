"""What a card takes from the person's dated facts on one local day; the void check reads the same facts again."""

from dataclasses import replace
from datetime import date, datetime

from gramrise.domain.bands import DEFAULT_BANDS, TimeBand
from gramrise.domain.care_plan import CarePlan, SchoolPlan, last_day_of
from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import AmountUnit, Source
from gramrise.estimate import weight_on
from gramrise.report.card.numbers.view import AmountView, PlanView, SchoolView, SourceView
from gramrise.report.card.settings import CardSettings


def local_day(person: Person, now_utc: datetime) -> date:
    """The date on the person's own clock."""
    return now_utc.astimezone(person.zone_now()).date()


def bands_on(person: Person, day: date) -> tuple[TimeBand, ...]:
    return person.bands.on_or_first(day) or DEFAULT_BANDS


def target_on(person: Person, day: date, settings: CardSettings) -> float:
    """The person's target, mg/dL; the usual one where none is stored."""
    return person.target_mg_dl.on(day) or settings.default_target_mg_dl


def known_weights(person: Person, day: date) -> Person:
    """The person with the weighings known by a day only."""
    return replace(person, weights_kg=Dated(tuple(each for each in person.weights_kg.entries if each[0] <= day)))


def weight_kg_on(person: Person, day: date) -> float | None:
    """Body weight on a day, kg, carried along growth from the weighings known by then; None where there is none."""
    return weight_on(known_weights(person, day), day)


def weighing_on(person: Person, day: date) -> tuple[date, float] | None:
    """The last weighing up to a day: when, and kg."""
    known = known_weights(person, day).weights_kg.entries
    return known[-1] if known else None


def plan_on(person: Person, day: date, source: Source | None, rules: CardSettings) -> PlanView:
    """The care plan as the card prints it, its grams also in whole pieces or mL of `source` where they come close."""
    plan = person.care_plan.on(day) or CarePlan()

    def amount(grams: float | None) -> AmountView | None:
        return None if grams is None else AmountView(grams=grams, units=counted(grams, source, rules))

    begun = [since for since, _ in person.care_plan.entries if since <= day]
    return PlanView(
        below_54=amount(plan.below_54_grams),
        standard=amount(plan.standard_grams),
        early=amount(plan.early_grams),
        automated=amount(plan.automated_grams),
        second=amount(plan.second_grams),
        least_grams=plan.least_grams,
        most_grams=plan.most_grams,
        early_grams_allowed=plan.early_grams_allowed,
        look_again_minutes=plan.look_again_minutes,
        contacts=plan.contacts,
        call_when=plan.call_when,
        glucagon=plan.glucagon,
        glucagon_where=plan.glucagon_where,
        vomiting=plan.vomiting,
        sport=plan.sport,
        illness=plan.illness,
        approved_by=plan.approved_by,
        approved_role=plan.approved_role,
        approved_on=plan.approved_on,
        valid_until=last_day_of(plan, person.born, begun[-1]) if begun else None,
    )


def school_on(person: Person, day: date, source: Source, rules: CardSettings) -> SchoolView | None:
    """What the school card adds to the plan; None where something of it is not stated (`school_gaps` says what)."""
    school = (person.care_plan.on(day) or CarePlan()).school
    told = (school.grams, school.year_from, school.year_until, school.authorised_on, school.kit_expires_on)
    if None in told:
        return None
    return _school(school, source, rules)


def _school(school: SchoolPlan, source: Source, rules: CardSettings) -> SchoolView:
    assert school.grams is not None  # `school_on` has looked
    return SchoolView.model_validate(
        {
            "amount": AmountView(grams=school.grams, units=counted(school.grams, source, rules)),
            "year_from": school.year_from,
            "year_until": school.year_until,
            "authorised_by_parent": school.authorised_by_parent,
            "authorised_on": school.authorised_on,
            "staff": school.staff,
            "kit": school.kit,
            "kit_expires_on": school.kit_expires_on,
            "glucagon_where": school.glucagon_where,
        }
    )


def counted(grams: float, source: Source | None, rules: CardSettings) -> int | None:
    """The care plan's grams as whole pieces or mL; None where no whole number comes close enough: then grams stand."""
    if source is None:
        return None
    units = round(grams / source.glucose_per_unit_g)
    off = abs(units * source.glucose_per_unit_g / grams - 1)
    return units if off <= rules.plan_rounding + 1e-9 else None


def source_view(source: Source | str) -> SourceView:
    """A source as printed; a bare name is a source of unknown strength, counted in pieces for want of better."""
    if isinstance(source, str):
        return SourceView(
            name=source,
            form="unknown",
            unit=AmountUnit.PIECE,
            glucose_per_unit_g=None,
            may_be_weaker=False,
            sealed=False,
        )
    return SourceView(
        name=source.name,
        form=source.form,
        unit=source.unit,
        glucose_per_unit_g=source.glucose_per_unit_g,
        may_be_weaker=source.may_be_weaker,
        sealed=source.sealed,
    )


def source_named(person: Person, name: str, day: date) -> Source | None:
    """The person's source of that name, or None."""
    return next((source for source in person.sources.on(day) or () if source.name == name), None)
