"""What a card takes from the person's dated facts on one local day; the void check reads the same facts again."""

from dataclasses import replace
from datetime import date, datetime

from gramrise.domain.bands import DEFAULT_BANDS, TimeBand
from gramrise.domain.person import CarePlan, Dated, Person
from gramrise.domain.sources import AmountUnit, Source
from gramrise.estimate import weight_on
from gramrise.report.card.settings import CardSettings
from gramrise.report.card.view import PlanView, SourceView


def local_day(person: Person, now_utc: datetime) -> date:
    """The date on the person's own clock."""
    return now_utc.astimezone(person.zone_now()).date()


def bands_on(person: Person, day: date) -> tuple[TimeBand, ...]:
    return person.bands.on_or_first(day) or DEFAULT_BANDS


def target_on(person: Person, day: date, settings: CardSettings) -> float:
    """The person's target, mg/dL; the usual one where none is stored."""
    return person.target_mg_dl.on(day) or settings.default_target_mg_dl


def weight_kg_on(person: Person, day: date) -> float | None:
    """Body weight on a day, kg, carried along growth from the weighings known by then; None where there is none."""
    known = Dated(tuple(entry for entry in person.weights_kg.entries if entry[0] <= day))
    return weight_on(replace(person, weights_kg=known), day)


def plan_on(person: Person, day: date, source: Source | None, rules: CardSettings) -> PlanView:
    """The care plan as the card prints it; its amount below 54 also in whole pieces or mL of `source`."""
    plan = person.care_plan.on(day) or CarePlan()
    grams = plan.below_54_grams
    amount = counted(grams, source, rules) if grams is not None and source is not None else None
    return PlanView(
        below_54_grams=grams,
        below_54_amount=amount,
        most_grams=plan.most_grams,
        early_grams_allowed=plan.early_grams_allowed,
        card_with_automated=plan.card_with_automated,
        contacts=plan.contacts,
        glucagon_where=plan.glucagon_where,
        approved_by=plan.approved_by,
        approved_on=plan.approved_on,
    )


def counted(grams: float, source: Source, rules: CardSettings) -> int | None:
    """The care plan's grams as whole pieces or mL; None where no whole number comes close enough: then grams stand."""
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


def whole_years(born: date, day: date) -> int:
    """Birthdays lived through; a child born on 29 February has them on 1 March."""
    return day.year - born.year - ((day.month, day.day) < (born.month, born.day))


def months_later(day: date, months: int) -> date:
    """The same day of the month so many months on, or that month's last day."""
    month = day.month - 1 + months
    year, month = day.year + month // 12, month % 12 + 1
    last = (date(year + month // 12, month % 12 + 1, 1) - date(year, month, 1)).days
    return date(year, month, min(day.day, last))
