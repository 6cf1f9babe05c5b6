"""The card's view: everything it prints for one person and one source, as numbers and codes."""

from datetime import date, datetime
from typing import Final

from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.person import Person
from gramrise.domain.sources import Form, Source
from gramrise.domain.words import Delivery
from gramrise.estimate import EstimateSettings, PathParameters, StateSettings, shipped_parameters, shipped_settings
from gramrise.report.card.numbers.amounts import Cap, cap_of
from gramrise.report.card.numbers.cells import Giving, Rows, response_to, step_of
from gramrise.report.card.numbers.facts import (
    bands_on,
    local_day,
    plan_on,
    school_on,
    source_view,
    target_on,
    weighing_on,
    weight_kg_on,
)
from gramrise.report.card.numbers.school import refuse_incomplete
from gramrise.report.card.numbers.states import (
    OF_COMPUTED_AMOUNTS,
    PLAN_LESS_BELOW_54,
    BandBasis,
    basis_of,
    reasons_for_no_card,
)
from gramrise.report.card.numbers.validity import last_day_of_card
from gramrise.report.card.numbers.view import BandView, CapView, CardView, PlanView, RowView
from gramrise.report.card.settings import SHIPPED_SETTINGS, CardSettings
from gramrise.report.lack_view import LackView

# Reasons of a cell for which a liquid could be measured finer.
TOO_COARSE: Final = frozenset({"piece_too_much", "piece_over_cap"})


def card_view(
    inputs: Inputs,
    findings: Findings,
    source: Source | str,
    *,
    now_utc: datetime,
    number: int,
    for_school: bool = False,
    in_doubt: tuple[str, ...] = (),
    settings: CardSettings = SHIPPED_SETTINGS,
    estimate_settings: EstimateSettings | None = None,
    parameters: PathParameters | None = None,
) -> CardView:
    """The view of one card; where `withheld` names a reason there is none, and it must not be printed.

    source      the source it is for; its bare name where nobody has told how strong it is
    number      the card's own number, given by whoever keeps the cards
    in_doubt    questions that wait for an answer on which the card hangs: weight_doubted | strength_doubted
    parameters  of the shape of the rise; None: those that are shipped
    raises WrongUse: a card for the school that is not complete, naming all that is missing
    """
    person, known = inputs.person, source if isinstance(source, Source) else None
    estimated, today = estimate_settings or shipped_settings(), local_day(person, now_utc)
    if for_school:
        refuse_incomplete(person, source, today, settings)
    plan = plan_on(person, today, known, settings)
    school = school_on(person, today, known, settings) if for_school and known is not None else None
    weight, weighing = weight_kg_on(person, today), weighing_on(person, today)
    cap = cap_of(weight, plan.most_grams, settings) if weight is not None else None
    against = (*in_doubt, *reasons_for_no_card(inputs, known, findings, now_utc, settings, estimated.state))
    against = tuple(code for code in against if school is None or code not in OF_COMPUTED_AMOUNTS)
    giving = _giving(known, weight, cap, plan, target_on(person, today, settings), settings, estimated, parameters)

    def made(no_card: tuple[str, ...]) -> tuple[dict[str, BandBasis], tuple[RowView, ...]]:
        bases = _bases(person, findings, no_card, now_utc, estimated.state) if school is None else {}
        delivery = person.delivery.on(today)
        return bases, _rows(Rows(person.unit, delivery, bases, giving, plan, settings)) if bases else ()

    bases, rows = made(against)
    if not against and less_below_54(plan, rows, source_view(source).glucose_per_unit_g):
        against = (PLAN_LESS_BELOW_54,)
        bases, rows = made(against)
    return CardView(
        number=number,
        person_id=person.person_id,
        name=person.name,
        born=person.born,
        language=person.language,
        unit=person.unit,
        made_at_utc=now_utc,
        made_on=today,
        valid_until=last_day_of_card(today, plan, school, settings),
        as_of_utc=findings.as_of_utc,
        model_version=findings.model_version,
        withheld=against,
        source=source_view(source),
        weight_kg=weight,
        weighed_on=weighing[0] if weighing else None,
        weighed_kg=weighing[1] if weighing else None,
        delivery=person.delivery.on(today) or "",
        target_mg_dl=target_on(person, today, settings),
        cap=CapView(grams=cap.grams, code=cap.code) if cap is not None else None,
        plan=plan,
        school=school,
        bands=_band_views(person, bases, today),
        rows=rows,
        finer_source=_finer_source(person, source_view(source).name, rows, today),
        not_for=_not_for(person.delivery.on(today), plan),
        source_cautions=_source_cautions(known),
        cautions=_cautions(person.delivery.on(today), computed=school is None),
        rules=settings,
    )


def less_below_54(plan: PlanView, rows: tuple[RowView, ...], glucose_per_unit_g: float | None) -> bool:
    """Whether a row above would give more than the plan gives below 54, both as they are counted out."""
    if plan.below_54 is None:
        return False
    below = plan.below_54.grams
    if plan.below_54.units is not None and glucose_per_unit_g is not None:
        below = plan.below_54.units * glucose_per_unit_g
    return any(_given(cell.amount, cell.grams, glucose_per_unit_g) > below + 1e-6 for row in rows for cell in row.cells)


def _given(units: int | None, grams: float | None, glucose_per_unit_g: float | None) -> float:
    if units is not None and glucose_per_unit_g is not None:
        return units * glucose_per_unit_g
    return grams or 0.0


def _giving(
    source: Source | None,
    weight_kg: float | None,
    cap: Cap | None,
    plan: PlanView,
    target_mg_dl: float,
    rules: CardSettings,
    estimated: EstimateSettings,
    parameters: PathParameters | None,
) -> Giving | None:
    """What all computed amounts share; None where source or weight is unknown."""
    if source is None or weight_kg is None or cap is None:
        return None
    response = response_to(source, weight_kg, parameters or shipped_parameters(shipped_settings().path))
    degrees = estimated.levels.event_degrees_of_freedom
    return Giving(step_of(source, rules), response, cap, target_mg_dl, plan.least_grams, degrees)


def _bases(
    person: Person, found: Findings, no_card: tuple[str, ...], now_utc: datetime, states: StateSettings
) -> dict[str, BandBasis]:
    """What each band's amounts rest on, in the order of the card's columns."""
    names = [band.name for band in bands_on(person, local_day(person, now_utc))]
    return {name: basis_of(person, found, name, no_card, now_utc, states) for name in names}


def _rows(rows: Rows) -> tuple[RowView, ...]:
    shown = [(row, False) for row in rows.rules.rows(rows.unit)]
    if rows.plan.early_grams_allowed:
        shown.append((rows.rules.early_row(rows.unit), True))
    return tuple(rows.row(row, early) for row, early in shown)


def _band_views(person: Person, bases: dict[str, BandBasis], today: date) -> tuple[BandView, ...]:
    return tuple(
        BandView(
            name=band.name,
            hours=band.hours,
            state=bases[band.name].state,
            reasons=bases[band.name].reasons,
            lacks=tuple(LackView(code=lack.code, count=lack.count) for lack in bases[band.name].lacks),
            factor_mg_dl_per_g=bases[band.name].factor_mg_dl_per_g,
            treatments_n=bases[band.name].treatments_n,
        )
        for band in bands_on(person, today)
        if band.name in bases
    )


def _finer_source(person: Person, own_name: str, rows: tuple[RowView, ...], today: date) -> str:
    """A liquid of the person's that could be measured where this source is too coarse; '' for none or no need."""
    if not any(cell.reason in TOO_COARSE for row in rows for cell in row.cells):
        return ""
    liquids = (source for source in person.sources.on(today) or () if source.form is Form.LIQUID)
    return next((source.name for source in liquids if source.name != own_name), "")


def _not_for(delivery: Delivery | None, plan: PlanView) -> tuple[str, ...]:
    always = ("falling_fast", "insulin", "sport", "illness")
    covered = delivery is Delivery.AUTOMATED and plan.automated is not None
    return always if covered else (*always, "automated")


def _source_cautions(source: Source | None) -> tuple[str, ...]:
    """Cautions of the weekly report that belong to a form of glucose."""
    if source is None:
        return ()
    home_mixed = source.form is Form.LIQUID and not source.sealed
    return (("gel",) if source.form is Form.GEL else ()) + (("home_mixed",) if home_mixed else ())


def _cautions(delivery: Delivery | None, computed: bool) -> tuple[str, ...]:
    """The other cautions of the weekly report; those about swallowing and looking again have their own place."""
    automated = ("automated",) if delivery is Delivery.AUTOMATED else ()
    return ("sensor", *(("average",) if computed else ()), *automated, "not_certified")
