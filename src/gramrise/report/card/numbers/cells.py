"""The cells of the card: for each row and band one amount and what to expect of it, or why there is none."""

from dataclasses import dataclass

from gramrise.domain.sources import AmountUnit, Source
from gramrise.domain.units import GlucoseUnit, to_mg_dl
from gramrise.domain.words import Delivery, State
from gramrise.estimate import PathParameters
from gramrise.report.card.numbers.amounts import SAME_GRAMS, Amount, Cap, Step, amount_of, at_least, wanted_grams
from gramrise.report.card.numbers.predictive import Doubt, Fall, Predictive
from gramrise.report.card.numbers.response import Response, response_of
from gramrise.report.card.numbers.states import BandBasis
from gramrise.report.card.numbers.view import AmountView, CellView, PlanView, RowView
from gramrise.report.card.settings import CardSettings, ShownRow


@dataclass(frozen=True, slots=True)
class Giving:
    """Everything the computed amounts of one card share. Exists only where source and weight are known."""

    step: Step
    response: Response
    cap: Cap
    target_mg_dl: float
    least_grams: float | None
    event_degrees_of_freedom: float


def step_of(source: Source, settings: CardSettings) -> Step:
    """One piece of a source, or the mL its cup is read to."""
    units = 1 if source.unit is AmountUnit.PIECE else settings.liquid_step_ml
    return Step(source.unit, units, units * source.glucose_per_unit_g)


def response_to(source: Source, weight_kg: float, parameters: PathParameters) -> Response:
    """The response of a person of that weight to a source's form."""
    return response_of(parameters.shape(source.form), weight_kg, parameters.exponent)


@dataclass(frozen=True, slots=True)
class Rows:
    """What every row of one card is made from. `bases` by band, in the order of the card's columns.

    giving  None where nothing can be computed: every basis is thin or withheld then
    """

    unit: GlucoseUnit
    delivery: Delivery | None
    bases: dict[str, BandBasis]
    giving: Giving | None
    plan: PlanView
    rules: CardSettings

    def row(self, shown: ShownRow, early: bool) -> RowView:
        """One row; `shown` is its first and last reading in the person's unit.

        Where the plan names grams for a level above 70 that falls, they stand there, as that row holds only as the plan
        says; else what was measured.
        """
        cells = tuple(self._cell(band, basis, shown, early) for band, basis in self.bases.items())
        return RowView(shown_from=shown[0], shown_to=shown[1], early=early, cells=cells)

    def _cell(self, band: str, basis: BandBasis, shown: ShownRow, early: bool) -> CellView:
        if basis.state is State.WITHHELD:
            return CellView(band=band, state=State.WITHHELD, reason=basis.reasons[0])
        if basis.state is State.THIN or self.giving is None or (early and self.plan.early is not None):
            return self._from_the_plan(band, early)
        level = Predictive(
            *span_of(shown, self.unit, self.rules),
            doubt_of(basis, self.giving.event_degrees_of_freedom, self.rules),
            self.giving.response,
        )
        wanted = wanted_grams(level, self.giving.target_mg_dl, self.giving.cap, self.rules)
        wanted = at_least(wanted, self.giving.least_grams)
        amount = amount_of(wanted, self.giving.cap, self.giving.step, self.rules)
        if amount.grams is None:
            return CellView(band=band, state=State.WITHHELD, reason=amount.reason)
        if amount.look_again and self._plan_is_more(amount.grams, early):
            return self._from_the_plan(band, early)
        return _computed(band, level, amount, amount.grams, self.rules)

    def _from_the_plan(self, band: str, early: bool) -> CellView:
        amount = self._plan_amount(early)
        if amount is None:
            return CellView(band=band, state=State.WITHHELD, reason="no_plan_amount")
        return CellView(band=band, state=State.THIN, amount=amount.units, grams=amount.grams)

    def _plan_is_more(self, grams: float, early: bool) -> bool:
        """Whether the care plan orders more, in whole pieces or mL, than a cap of ours has left of a computed amount.

        The caps are guidelines for everybody, and cut by whole pieces: 9.4 g leave one piece of 4.73 g where the plan
        orders two.
        """
        ordered = self._plan_amount(early)
        if ordered is None or ordered.units is None or self.giving is None:
            return False
        held = ordered.units / self.giving.step.units * self.giving.step.grams
        return grams < held and (self.plan.most_grams is None or held <= self.plan.most_grams + SAME_GRAMS)

    def _plan_amount(self, early: bool) -> AmountView | None:
        if early:
            return self.plan.early
        return self.plan.automated if self.delivery is Delivery.AUTOMATED else self.plan.standard


def doubt_of(basis: BandBasis, event_degrees_of_freedom: float, rules: CardSettings) -> Doubt:
    """What spreads the outcome of one treatment in a band of the person's own."""
    assert basis.factor_mg_dl_per_g is not None  # a basis of the person's own has one, and its spreads
    assert basis.sd_log is not None
    assert basis.event_sd_log is not None
    return Doubt(
        basis.factor_mg_dl_per_g,
        basis.sd_log,
        basis.event_sd_log,
        event_degrees_of_freedom,
        rules.reading_error_sd_mg_dl,
        rules.drift_sd_mg_dl,
        rules.drift_minutes,
    )


def span_of(shown: ShownRow, unit: GlucoseUnit, rules: CardSettings) -> tuple[float, float]:
    """The levels, mg/dL, that the reader shows as a value of the row: half a step beyond its first and last."""
    half = rules.shown_step(unit) / 2
    return to_mg_dl(shown[0] - half, unit), to_mg_dl(shown[1] + half, unit)


def _computed(band: str, level: Predictive, amount: Amount, grams: float, rules: CardSettings) -> CellView:
    below = (1 - rules.expect_share) / 2
    top = level.response.minutes_to_top
    steepest = Fall(rules.most_fall_mg_dl_per_min, rules.fall_lasts_minutes)
    return CellView(
        band=band,
        state=State.OWN,
        amount=amount.units,
        grams=grams,
        look_again=amount.look_again,
        expect_low_mg_dl=level.quantile(below, grams, rules.expect_minutes),
        expect_high_mg_dl=level.quantile(1 - below, grams, rules.expect_minutes),
        top_minutes=rules.top_step_minutes * round(top / rules.top_step_minutes),
        chance_below_safe=level.chance_below(rules.safe_level_mg_dl, grams, rules.safe_minutes, steepest),
    )
