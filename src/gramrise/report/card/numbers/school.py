"""What a card for the school lacks: it is printed only complete."""

from dataclasses import dataclass
from datetime import date

from gramrise.domain.care_plan import CarePlan, has_number
from gramrise.domain.person import Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import Source
from gramrise.report.card.numbers.facts import counted
from gramrise.report.card.settings import CardSettings


@dataclass(frozen=True, slots=True)
class Gap:
    """One thing that is missing, and what to type to state it."""

    what: str
    mend: str


def school_gaps(person: Person, source: Source | str, today: date, rules: CardSettings) -> tuple[Gap, ...]:
    """Everything that a complete card for the school still lacks, in the order in which it is printed."""
    plan = person.care_plan.on(today) or CarePlan()
    told = f"gramrise person plan {person.person_id}"
    gaps = (
        (Gap("a sealed source of known strength", "--source with a shop-bought one"), not _sealed(source)),
        (Gap("the name", f"gramrise person set {person.person_id} --name NAME"), not person.name),
        (
            Gap("whom to call, with a number", f"{told} --contact 'WHO NUMBER'"),
            not any(has_number(contact) for contact in plan.contacts),
        ),
        (
            Gap("where the glucagon is at school", f"{told} --school-glucagon-where PLACE"),
            not plan.school.glucagon_where,
        ),
        (Gap("the clinician's approval", f"{told} --approved-by NAME --approved-on DATE"), not _approved(plan)),
        *_school_gaps(plan, source, today, rules, told),
    )
    return tuple(gap for gap, missing in gaps if missing)


def refuse_incomplete(person: Person, source: Source | str, today: date, rules: CardSettings) -> None:
    """Raises WrongUse naming everything the school's card lacks and how to state it."""
    gaps = school_gaps(person, source, today, rules)
    if gaps:
        raise WrongUse(
            f"a card for the school is printed only complete; missing: {'; '.join(gap.what for gap in gaps)}",
            "; ".join(gap.mend for gap in gaps),
            "school_card_incomplete",
        )


def _school_gaps(
    plan: CarePlan, source: Source | str, today: date, rules: CardSettings, told: str
) -> tuple[tuple[Gap, bool], ...]:
    school = plan.school
    in_year = school.year_from is not None and school.year_until is not None and today <= school.year_until
    in_date = school.kit_expires_on is not None and today <= school.kit_expires_on
    grams = school.grams
    whole = grams is not None and isinstance(source, Source) and counted(grams, source, rules) is not None
    # Where the plan has an amount for a low, the one for school is no smaller and not above the plan's most.
    least, most = plan.standard_grams or 0.0, plan.most_grams or float("inf")
    within = grams is not None and least <= grams <= most
    return (
        (Gap("the plan's one amount for the school, in g", f"{told} --school-grams GRAMS"), grams is None),
        (
            Gap("an amount for the school between the plan's standard and its most", f"{told} --school-grams GRAMS"),
            grams is not None and not within,
        ),
        (
            Gap("a source whose whole pieces or mL come close to that amount", "--source with another one"),
            grams is not None and isinstance(source, Source) and not whole,
        ),
        (
            Gap("a parent's authorisation", f"{told} --authorised-by-parent NAME --authorised-on DATE"),
            not (school.authorised_by_parent and school.authorised_on),
        ),
        (
            Gap("a school year that is not over", f"{told} --school-year-from DATE --school-year-until DATE"),
            not in_year,
        ),
        (Gap("trained staff by name", f"{told} --staff NAME"), not school.staff),
        (Gap("what is in the kit and where it is", f"{told} --kit TEXT"), not school.kit),
        (Gap("a date of expiry of the kit that is to come", f"{told} --kit-expires DATE"), not in_date),
    )


def _sealed(source: Source | str) -> bool:
    return isinstance(source, Source) and source.sealed


def _approved(plan: CarePlan) -> bool:
    return bool(plan.approved_by and plan.approved_on)
