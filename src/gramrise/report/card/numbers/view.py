"""The glucose card as numbers and codes: the one source of its PDF, picture, terminal text and JSON. No prose.

Glucose is mg/dL and grams are anhydrous glucose wherever a name says so; `shown_from` and `shown_to` of a row are in
the person's own `unit`, as the reader shows them. A cell holds an amount or says why not, never both: its model
refuses anything else.
"""

from datetime import date, datetime

from pydantic import BaseModel, ConfigDict, model_validator

from gramrise.domain.units import GlucoseUnit
from gramrise.report.card.settings import CardSettings
from gramrise.report.lack_view import LackView

KIND = "card"  # name of the JSON document


class Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class SourceView(Part):
    """The one source the card is for. `glucose_per_unit_g` is null where nobody has told its strength."""

    name: str
    form: str  # tablet | liquid | gel | unknown
    unit: str  # piece | mL
    glucose_per_unit_g: float | None
    may_be_weaker: bool
    sealed: bool


class BandView(Part):
    """One time band. The factor is the posterior's, the number that screen and report show."""

    name: str
    hours: str
    state: str  # own | thin | withheld
    reasons: tuple[str, ...]  # why it is withheld; empty otherwise
    lacks: tuple[LackView, ...] = ()  # why it is thin
    factor_mg_dl_per_g: float | None
    treatments_n: int

    @model_validator(mode="after")
    def _withheld_with_reasons(self) -> "BandView":
        if (self.state == "withheld") != bool(self.reasons):
            raise ValueError("a band is withheld exactly where it has reasons")
        return self


class CellView(Part):
    """The first amount for one row and band; or the reason for none.

    own   a computed amount with what to expect of it
    thin  the care plan's grams; `amount` is null where whole pieces or mL do not come close to them
    """

    band: str
    state: str  # own | thin | withheld
    reason: str = ""  # of this cell alone or of its band
    amount: int | None = None  # pieces or mL
    grams: float | None = None
    look_again: bool = False  # the cap holds it below what the target asks for
    expect_low_mg_dl: float | None = None  # reading after the rules' expect_minutes
    expect_high_mg_dl: float | None = None
    top_minutes: int | None = None
    chance_below_safe: float | None = None  # after the rules' safe_minutes, in the steepest fall the card is for

    @model_validator(mode="after")
    def _amount_or_reason(self) -> "CellView":
        computed = (self.expect_low_mg_dl, self.expect_high_mg_dl, self.top_minutes, self.chance_below_safe)
        numbers = (self.amount, self.grams, *computed)
        if self.state == "withheld" and (not self.reason or any(number is not None for number in numbers)):
            raise ValueError("a withheld cell holds a reason and no numbers")
        if self.state == "own" and (self.reason or any(number is None for number in numbers)):
            raise ValueError("a cell of the person's own holds an amount and what to expect")
        if self.state == "thin" and (self.reason or self.grams is None or computed != (None,) * 4):
            raise ValueError("a thin cell holds the care plan's grams and foretells nothing")
        return self


class RowView(Part):
    """Readings `shown_from` to `shown_to`, both in the row. `early`: only if falling and the plan says so."""

    shown_from: float
    shown_to: float
    early: bool
    cells: tuple[CellView, ...]  # one a band, in the order of `bands`


class AmountView(Part):
    """An amount of the care plan, g, and in whole pieces or mL of the card's source where these come close."""

    grams: float
    units: int | None


class PlanView(Part):
    """What the card takes from the care plan, never computed."""

    below_54: AmountView | None
    standard: AmountView | None
    early: AmountView | None
    automated: AmountView | None
    second: AmountView | None
    least_grams: float | None
    most_grams: float | None
    early_grams_allowed: bool
    look_again_minutes: int | None
    contacts: tuple[str, ...]
    call_when: str
    glucagon: str
    glucagon_where: str
    vomiting: str
    sport: str
    illness: str
    approved_by: str
    approved_role: str
    approved_on: date | None
    valid_until: date | None


class SchoolView(Part):
    """What the school's card adds: one amount without conditions, who authorised it, staff and kit."""

    amount: AmountView
    year_from: date
    year_until: date
    authorised_by_parent: str
    authorised_on: date
    staff: tuple[str, ...]
    kit: str
    kit_expires_on: date
    glucagon_where: str = ""  # cards of before printed the plan's place


class CapView(Part):
    grams: float
    code: str  # weight | twenty | plan


class CardView(Part):
    """One numbered card for one person and one source."""

    number: int
    person_id: str
    name: str
    born: date
    language: str
    unit: str  # mg/dL | mmol/L
    made_at_utc: datetime
    made_on: date  # on the person's own clock
    valid_until: date  # last day on which it holds
    as_of_utc: datetime  # of the findings it rests on
    model_version: str
    withheld: tuple[str, ...]  # why there is no card, keys `on_card.withheld.*`; then nothing is printed
    source: SourceView
    weight_kg: float | None  # on the card's day
    weighed_on: date | None  # the last weighing
    weighed_kg: float | None
    delivery: str  # injections | pump | automated | ''
    target_mg_dl: float
    cap: CapView | None
    plan: PlanView
    school: SchoolView | None  # on a card for the school: it has no bands and rows
    bands: tuple[BandView, ...]
    rows: tuple[RowView, ...]  # lowest readings first
    finer_source: str  # a liquid of the person's that could be measured finer; '' for none
    not_for: tuple[str, ...]  # keys `on_card.not_for.*` of the words files
    source_cautions: tuple[str, ...]  # keys `caution.*`: those of this form of glucose
    cautions: tuple[str, ...]  # the others that stand on the card
    rules: CardSettings  # it was made with

    @property
    def for_school(self) -> bool:
        return self.school is not None

    @property
    def below_54_shown(self) -> float:
        """Under this reading, in the person's unit, the care plan's amount holds."""
        return self.rules.rows(GlucoseUnit(self.unit))[0][0]

    @property
    def has_amounts(self) -> bool:
        return any(cell.grams is not None for row in self.rows for cell in row.cells)

    @property
    def has_own_amounts(self) -> bool:
        return any(cell.state == "own" for row in self.rows for cell in row.cells)
