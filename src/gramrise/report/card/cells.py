"""The cells of the card: for each row and band one amount and what to expect of it, or why there is none."""

from dataclasses import dataclass

from gramrise.domain.sources import AmountUnit, Source
from gramrise.domain.units import GlucoseUnit, to_mg_dl
from gramrise.domain.words import State
from gramrise.estimate import PathParameters
from gramrise.report.card.amounts import Amount, Cap, Step, amount_of, wanted_grams
from gramrise.report.card.predictive import Doubt, Predictive
from gramrise.report.card.response import Response, response_of
from gramrise.report.card.settings import CardSettings, ShownRow
from gramrise.report.card.states import BandBasis
from gramrise.report.card.view import CellView, RowView


@dataclass(frozen=True, slots=True)
class Giving:
    """Everything the amounts of one card share. Exists only where source and weight are known."""

    step: Step
    response: Response
    cap: Cap
    target_mg_dl: float
    event_degrees_of_freedom: float


def step_of(source: Source, settings: CardSettings) -> Step:
    """One piece of a source, or the mL its cup is read to."""
    units = 1 if source.unit is AmountUnit.PIECE else settings.liquid_step_ml
    return Step(source.unit, units, units * source.glucose_per_unit_g)


def response_to(source: Source, weight_kg: float, parameters: PathParameters) -> Response:
    """The response of a person of that weight to a source's form."""
    return response_of(parameters.shape(source.form), weight_kg, parameters.exponent)


def row_of(
    shown: ShownRow,
    unit: GlucoseUnit,
    early: bool,
    bases: dict[str, BandBasis],
    giving: Giving | None,
    rules: CardSettings,
) -> RowView:
    """One row of the card.

    shown   first and last reading of the row, in the person's `unit`
    bases   by band, in the order of the card's columns
    giving  None where no amount can be given at all: every basis is withheld then
    """
    cells = tuple(_cell(name, basis, _span(shown, unit, rules), giving, rules) for name, basis in bases.items())
    return RowView(shown_from=shown[0], shown_to=shown[1], early=early, cells=cells)


def doubt_of(basis: BandBasis, event_degrees_of_freedom: float, rules: CardSettings) -> Doubt:
    """What spreads the outcome of one treatment in a band that is not withheld."""
    assert basis.factor_mg_dl_per_g is not None  # a basis that is not withheld has one
    return Doubt(
        basis.factor_mg_dl_per_g,
        basis.sd_log,
        basis.event_sd_log,
        event_degrees_of_freedom,
        rules.reading_error_sd_mg_dl,
        rules.drift_sd_mg_dl,
        rules.drift_minutes,
    )


def _span(shown: ShownRow, unit: GlucoseUnit, rules: CardSettings) -> tuple[float, float]:
    """The levels, mg/dL, that the reader shows as a value of the row: half a step beyond its first and last."""
    half = rules.shown_step(unit) / 2
    return to_mg_dl(shown[0] - half, unit), to_mg_dl(shown[1] + half, unit)


def _cell(
    band: str, basis: BandBasis, span: tuple[float, float], giving: Giving | None, rules: CardSettings
) -> CellView:
    if basis.state is State.WITHHELD or giving is None:
        return CellView(band=band, state=State.WITHHELD, reason=basis.reasons[0])
    level = Predictive(*span, doubt_of(basis, giving.event_degrees_of_freedom, rules), giving.response)
    wanted = wanted_grams(level, giving.target_mg_dl, giving.cap, rules)
    amount = amount_of(wanted, giving.cap, giving.step, rules)
    if amount.grams is None:
        return CellView(band=band, state=State.WITHHELD, reason=amount.reason)
    return _given(band, basis.state, level, amount, amount.grams, rules)


def _given(band: str, state: State, level: Predictive, amount: Amount, grams: float, rules: CardSettings) -> CellView:
    below = (1 - rules.expect_share) / 2
    top = level.response.minutes_to_top
    return CellView(
        band=band,
        state=state,
        amount=amount.units,
        grams=grams,
        look_again=amount.look_again,
        expect_low_mg_dl=level.quantile(below, grams, rules.expect_minutes),
        expect_high_mg_dl=level.quantile(1 - below, grams, rules.expect_minutes),
        top_minutes=rules.top_step_minutes * round(top / rules.top_step_minutes),
        chance_below_safe=level.chance_below(rules.safe_level_mg_dl, grams, rules.safe_minutes),
    )
