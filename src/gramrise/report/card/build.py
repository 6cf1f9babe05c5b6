"""The card's view: everything it prints for one person and one source, as numbers and codes."""

from datetime import date, datetime
from typing import Any, Final

import polars as pl

from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.frames import FACTORS, PAIRINGS
from gramrise.domain.person import Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import Form, Source
from gramrise.domain.words import Delivery
from gramrise.estimate import EstimateSettings, PathParameters, StateSettings, shipped_parameters, shipped_settings
from gramrise.report.card.amounts import Cap, cap_of
from gramrise.report.card.cells import Giving, response_to, row_of, step_of
from gramrise.report.card.facts import bands_on, local_day, months_later, plan_on, source_view, target_on, weight_kg_on
from gramrise.report.card.settings import SHIPPED_SETTINGS, CardSettings
from gramrise.report.card.states import NO_PIECES_YET, BandBasis, basis_of, card_reasons, is_still_own
from gramrise.report.card.view import BandView, CapView, CardView, PlanView, RowView

# Reasons of a cell or card for which a liquid could be measured finer, or given at all.
TOO_COARSE: Final = frozenset({"piece_too_much", "piece_over_cap", NO_PIECES_YET})


def card_view(
    inputs: Inputs,
    findings: Findings,
    source: Source | str,
    *,
    now_utc: datetime,
    number: int,
    for_school: bool = False,
    settings: CardSettings = SHIPPED_SETTINGS,
    estimate_settings: EstimateSettings | None = None,
    parameters: PathParameters | None = None,
) -> CardView:
    """The view of one card.

    source      the source it is for; its bare name where nobody has told how strong it is: all amounts are withheld
    number      the card's own number, given by whoever keeps the cards
    parameters  of the shape of the rise; None: those that are shipped
    raises WrongUse: a card for the school asked for a source that is not sealed, or of unknown strength
    """
    person, known = inputs.person, source if isinstance(source, Source) else None
    if for_school:
        _refuse_unsealed(source)
    estimated = estimate_settings or shipped_settings()
    today, target = local_day(person, now_utc), target_on(person, local_day(person, now_utc), settings)
    weight = weight_kg_on(person, today)
    against = card_reasons(person, known, weight, today, settings, estimated.state.delivery_settles_days)
    # A form that must not be given at all is not counted out for the care plan's amount either.
    plan = plan_on(person, today, None if NO_PIECES_YET in against else known, settings)
    bases = _bases(person, findings, weight, against, now_utc, estimated.state)
    cap = cap_of(weight, plan.most_grams, settings) if weight is not None else None
    giving = _giving(known, weight, cap, target, settings, estimated, parameters)
    rows = _rows(person, plan, bases, giving, settings)
    return CardView(
        number=number,
        for_school=for_school,
        person_id=person.person_id,
        name=person.name,
        born=person.born,
        language=person.language,
        unit=person.unit,
        made_at_utc=now_utc,
        made_on=today,
        valid_until=months_later(today, settings.valid_months),
        as_of_utc=findings.as_of_utc,
        model_version=findings.model_version,
        source=source_view(source),
        weight_kg=weight,
        delivery=person.delivery.on(today) or "",
        target_mg_dl=target,
        cap=CapView(grams=cap.grams, code=cap.code) if cap is not None else None,
        plan=plan,
        bands=_band_views(person, bases, today),
        rows=rows,
        finer_source=_finer_source(person, source_view(source).name, rows, today, for_school),
        not_for=_not_for(plan),
        source_cautions=_source_cautions(known),
        cautions=_cautions(person.delivery.on(today)),
        rules=settings,
    )


def _refuse_unsealed(source: Source | str) -> None:
    if isinstance(source, Source) and source.sealed:
        return
    name = source if isinstance(source, str) else source.name
    raise WrongUse(
        f"a card for the school is for sealed sources only, and '{name}' is not one",
        "choose a shop-bought source of known strength",
    )


def _giving(
    source: Source | None,
    weight_kg: float | None,
    cap: Cap | None,
    target_mg_dl: float,
    rules: CardSettings,
    estimated: EstimateSettings,
    parameters: PathParameters | None,
) -> Giving | None:
    """What all amounts share; None where source or weight is unknown."""
    if source is None or weight_kg is None or cap is None:
        return None
    response = response_to(source, weight_kg, parameters or shipped_parameters(shipped_settings().path))
    return Giving(step_of(source, rules), response, cap, target_mg_dl, estimated.levels.event_degrees_of_freedom)


def _bases(
    person: Person,
    findings: Findings,
    weight_kg: float | None,
    against: tuple[str, ...],
    now_utc: datetime,
    rules: StateSettings,
) -> dict[str, BandBasis]:
    """What each band's amounts rest on, in the order of the card's columns."""
    found, pairings = _latest_by_band(findings.factors), PAIRINGS.check(findings.pairings)
    return {
        band.name: basis_of(
            found.get(band.name), weight_kg, against, is_still_own(pairings, band.name, person, now_utc, rules)
        )
        for band in bands_on(person, local_day(person, now_utc))
    }


def _latest_by_band(factors: pl.DataFrame) -> dict[str, dict[str, Any]]:
    """The newest row of FACTORS of each band."""
    return {row["band"]: row for row in FACTORS.check(factors).sort("as_of_utc").iter_rows(named=True)}


def _rows(
    person: Person, plan: PlanView, bases: dict[str, BandBasis], giving: Giving | None, rules: CardSettings
) -> tuple[RowView, ...]:
    shown = [(row, False) for row in rules.rows(person.unit)]
    if plan.early_grams_allowed:
        shown.append((rules.early_row(person.unit), True))
    return tuple(row_of(row, person.unit, early, bases, giving, rules) for row, early in shown)


def _band_views(person: Person, bases: dict[str, BandBasis], today: date) -> tuple[BandView, ...]:
    return tuple(
        BandView(
            name=band.name,
            hours=band.hours,
            state=bases[band.name].state,
            reasons=bases[band.name].reasons,
            factor_mg_dl_per_g=bases[band.name].factor_mg_dl_per_g,
            treatments_n=bases[band.name].treatments_n,
        )
        for band in bands_on(person, today)
    )


def _finer_source(person: Person, own_name: str, rows: tuple[RowView, ...], today: date, for_school: bool) -> str:
    """A liquid of the person's that could be measured where this source is too coarse; '' for none or no need."""
    if not any(cell.reason in TOO_COARSE for row in rows for cell in row.cells):
        return ""
    liquids = (source for source in person.sources.on(today) or () if source.form is Form.LIQUID)
    return next((s.name for s in liquids if s.name != own_name and (s.sealed or not for_school)), "")


def _not_for(plan: PlanView) -> tuple[str, ...]:
    always = ("falling_fast", "insulin", "sport", "illness")
    return always if plan.card_with_automated else (*always, "automated")


def _source_cautions(source: Source | None) -> tuple[str, ...]:
    """Cautions of the weekly report that belong to a form of glucose."""
    if source is None:
        return ()
    home_mixed = source.form is Form.LIQUID and not source.sealed
    return (("gel",) if source.form is Form.GEL else ()) + (("home_mixed",) if home_mixed else ())


def _cautions(delivery: Delivery | None) -> tuple[str, ...]:
    """The other cautions of the weekly report; those about swallowing and looking again have their own place."""
    automated = ("automated",) if delivery is Delivery.AUTOMATED else ()
    return ("sensor", "vomiting", "average", *automated, "not_certified")
