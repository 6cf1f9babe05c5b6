"""The review as numbers and codes: the one source of its pages, PDF, CSV and JSON. No prose.

Glucose is mg/dL throughout and grams are anhydrous glucose; `unit` says in which unit the family reads. Instants are
aware and in UTC; `zone` is the clock on which they are read. A change is told as a ratio: 0.76 is 24 % less.
"""

from datetime import date, datetime

from gramrise.report.weekly.numbers.card_state import CardState
from gramrise.report.weekly.numbers.view import FactorView, LowView, Measured, Part, Point, QuestionView


class Dangers(Part):
    """Lows that a team should hear of in the last days of data. One low can count in several places."""

    days: int
    severe_n: int  # glucagon was needed
    level_2_n: int
    prolonged_n: int
    unlogged_nights_n: int  # nights with a low and nothing written down
    unnoticed_n: int  # the sensor or an adult noticed, the child did not
    told_who_n: int  # treated lows whose log says who noticed
    lows_n: int
    lows_by_night_n: int

    @property
    def any(self) -> bool:
        return any(self.gravest)

    @property
    def gravest(self) -> tuple[int, ...]:
        """In the order in which they weigh."""
        return self.severe_n, self.level_2_n, self.prolonged_n + self.unlogged_nights_n, self.unnoticed_n


class DriftLine(Part):
    """How one band's number stands to the signed one. `finding` is a code of the words, `drift.*`.

    ratio          now over the reference, both computed with today's model
    growth_ratio   what body weight alone would have made of it
    beyond_*       the ratio without growth's part
    listed         among those of the panel whose expected share of false alarms is held
    """

    band: str
    hours: str
    reference_on: date
    ratio: float
    ratio_p05: float
    ratio_p25: float
    ratio_p75: float
    ratio_p95: float
    growth_ratio: float
    beyond_ratio: float
    beyond_p05: float
    beyond_p95: float
    probability_moved: float
    finding: str
    shape: str  # step | slope | undecided | none
    change_on: date | None
    change_p05_on: date | None
    change_p95_on: date | None
    pairings_since: int
    listed: bool = False


class SignedBand(Part):
    """One band as it was signed."""

    band: str
    hours: str
    factor_mg_dl_per_g: float | None
    p05_mg_dl_per_g: float | None
    p95_mg_dl_per_g: float | None
    weight_adjusted_mg_dl_kg_per_g: float | None
    pairings_used: int
    state: str


class SourceStrength(Part):
    name: str
    grams_per_unit: float
    unit: str  # piece | mL


class SetAside(Part):
    """How many pairings were set aside for a reason, a code of `domain.reasons`."""

    reason: str
    count: int


class PlanAmount(Part):
    """An amount of the care plan, by its name in the plan, g."""

    name: str
    grams: float


class SignOff(Part):
    """One sign-off as it was recorded. `holds_not` says why it no longer holds, '' where it does."""

    number: int
    signed_at_utc: datetime
    signed_by: str
    role: str
    accepted: bool
    as_of: date
    bands: tuple[SignedBand, ...]
    weight_kg: float | None
    delivery: str
    settings: str
    sources: tuple[SourceStrength, ...]
    data_from: date | None
    data_to: date | None
    set_aside: tuple[SetAside, ...]
    plan_version: str
    plan_amounts: tuple[PlanAmount, ...]
    valid_until: date | None
    cards_superseded: tuple[int, ...]
    told: str
    note: str
    model_version: str
    holds_not: tuple[str, ...]  # codes, `holds_not.*` of the words


class CoursePoint(Part):
    """The number of one band in one week, by all treatments known today and by today's model."""

    week: date
    factor_mg_dl_per_g: float
    p05_mg_dl_per_g: float
    p95_mg_dl_per_g: float


class GrowthPoint(Part):
    """What growth alone would have made of the signed number by a day."""

    on: date
    factor_mg_dl_per_g: float


class Course(Part):
    band: str
    hours: str
    points: tuple[CoursePoint, ...]
    singles: tuple[tuple[date, float], ...]  # the used treatments' own numbers
    signed: SignedBand | None
    signed_on: date | None
    growth: tuple[GrowthPoint, ...]
    change_on: date | None
    change_p05_on: date | None
    change_p95_on: date | None


class Happened(Part):
    """Something else that changed, dated: a code `happened.*` of the words and what it says.

    until   last day of it; null for a day
    value   the amount it is about, null where there is none; text: the log's or the file's own words, or a code
    """

    on: date
    code: str
    until: date | None = None
    value: float | None = None
    before: float | None = None
    text: str = ""


class WeekLogged(Part):
    """One week of what stands beside the number: insulin, food and glucose given, and how much was readable."""

    week: date
    days_n: int
    insulin_units_a_day: float | None  # rapid insulin; null where none is logged
    carbohydrate_g_a_day: float | None
    glucose_g_a_day: float
    lows_n: int
    lows_logged_n: int  # with glucose, food or glucagon written down
    covered: float  # share of the time for which a reading stands


class Paired(Measured):
    """A pairing as the clinic sees it: what the readings did, and where the level was heading.

    trace, untreated, fitted   (minutes after the first glucose, mg/dL), within what is drawn; the trace broken at gaps
    untreated_sd_mg_dl         half the width of the untreated path where the rise peaks, one standard deviation
    given                      (minutes after the first, g) of each amount
    shown_factor_mg_dl_per_g   what the family was shown for these hours on that day; null where no night showed any
    """

    form: str
    weight_kg: float | None
    factor_sd_mg_dl_per_g: float | None
    trace: tuple[tuple[Point, ...], ...]
    untreated: tuple[Point, ...]
    untreated_sd_mg_dl: float | None
    fitted: tuple[Point, ...]
    given: tuple[tuple[float, float | None], ...]
    shown_factor_mg_dl_per_g: float | None
    insulin_on_board_units: float | None


class Shown(Part):
    """What the family was shown on a night, for one band."""

    at_utc: datetime
    band: str
    factor_mg_dl_per_g: float
    p05_mg_dl_per_g: float
    p95_mg_dl_per_g: float
    pairings_used: int
    state: str
    model_version: str


class GivenBand(Part):
    """Glucose given in one band over the days before the visit."""

    band: str
    hours: str
    grams_a_day: float
    times_n: int
    median_grams: float | None
    treatments_n: int
    above_180_n: int  # treatments with a reading above 180 within two hours


class Note(Part):
    """What the family wrote down: illness, a note."""

    at_utc: datetime
    kind: str
    text: str


class Visit(Part):
    """What a nurse looks at before the visit: the last days of data."""

    from_on: date
    to_on: date
    days_n: int
    dangerous: tuple[LowView, ...]  # the gravest first
    dangers: Dangers
    lows_n: int
    lows_by_night_n: int
    given: tuple[GivenBand, ...]
    amounts_unknown_n: int
    treatments_n: int
    second_amounts_n: int
    above_180_n: int
    covered: float
    longest_gap_hours: float
    nothing_logged_n: int
    questions: tuple[QuestionView, ...]
    notes: tuple[Note, ...]


class PersonReview(Part):
    """Everything the clinic sees of one person."""

    person_id: str
    name: str
    language: str
    unit: str
    zone: str
    born: date
    age_years: float
    weight_kg: float | None
    weighed_on: date | None
    delivery: str
    written_at_utc: datetime
    as_of_utc: datetime
    model_version: str
    last_reading_utc: datetime | None
    data_on: date  # the local day up to which there are data
    night_band: str
    night_hours: str
    trace_from_minutes: float
    trace_to_minutes: float
    trace_lowest_mg_dl: float
    trace_highest_mg_dl: float
    prolonged_minutes: float
    dangers: Dangers
    factors: tuple[FactorView, ...]
    drift: tuple[DriftLine, ...]
    signed: SignOff | None  # the latest accepted one
    sign_offs: tuple[SignOff, ...]  # all, the latest first
    courses: tuple[Course, ...]
    happened: tuple[Happened, ...]
    weeks: tuple[WeekLogged, ...]
    pairings: tuple[Paired, ...]
    pairings_from_on: date
    shown: tuple[Shown, ...]
    visit: Visit
    cards: tuple[CardState, ...]
    rests_on: tuple[str, ...]
    cautions: tuple[str, ...]


class PanelLine(Part):
    """One person in one line."""

    person_id: str
    name: str
    age_years: float
    dangers: Dangers
    drift: tuple[DriftLine, ...]  # the most probable first
    moved: bool  # some band is on the list
    signed_on: date | None
    holds_not: tuple[str, ...]
    pairings_n: int  # used ones since the reference, else in the last weeks
    last_reading_utc: datetime | None
    silent_days: int | None  # since the last reading, where it is long ago
    unit: str
    zone: str


class Panel(Part):
    """Everybody, danger first, then those whose number moved, then the rest."""

    language: str
    written_at_utc: datetime
    danger_days: int
    lines: tuple[PanelLine, ...]
    expected_false: float | None  # expected share of false alarms among the listed; null where none is listed
    could_not: tuple[str, ...] = ()  # ids of persons whose findings could not be made


class Review(Part):
    """The panel and the pages of those it was made with; described by `gramrise schema review`."""

    panel: Panel
    persons: tuple[PersonReview, ...]
