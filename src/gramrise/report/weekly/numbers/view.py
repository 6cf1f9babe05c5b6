"""The weekly report as numbers and codes: the one source of its HTML, plain text, PDF, mail and JSON. No prose.

Glucose is mg/dL throughout and grams are anhydrous glucose; `unit` says in which unit the person reads. Instants are
aware and in UTC; `zone` is the clock on which they are read.
"""

from datetime import date, datetime

from pydantic import Field

from gramrise.report.lack_view import LackView
from gramrise.report.weekly.numbers.card_state import CardState
from gramrise.report.weekly.numbers.part import Part
from gramrise.report.weekly.numbers.supplies_view import SuppliesView

Point = tuple[float, float]  # (minutes after the strip's start, mg/dL)


class FactorView(Part):
    """One band's answer. The numbers are null where none can be given (no weight is known)."""

    band: str
    hours: str
    factor_mg_dl_per_g: float | None
    p05_factor_mg_dl_per_g: float | None
    p95_factor_mg_dl_per_g: float | None
    starting_mg_dl_per_g: float | None
    weight_kg: float | None
    weight_estimated: bool = False  # carried along growth from the last weighing to a number that nobody typed
    pairings_used: int
    state: str  # own | thin | withheld
    lacks: tuple[LackView, ...] = ()  # what a thin one lacks to be the person's own
    single_mg_dl_per_g: tuple[float, ...]  # the used treatments' own factors of the last months, by time

    @property
    def numbers(self) -> tuple[float, ...]:
        """(factor, lower end, upper end, starting table); empty when any is not known."""
        found = (
            self.factor_mg_dl_per_g,
            self.p05_factor_mg_dl_per_g,
            self.p95_factor_mg_dl_per_g,
            self.starting_mg_dl_per_g,
        )
        known = tuple(number for number in found if number is not None)
        return known if len(known) == len(found) else ()

    @property
    def known(self) -> bool:
        return bool(self.numbers)


class Change(Part):
    """Something that is not as it was: a code of `words`, the band it is about ('' for none), before and now."""

    code: str
    band: str = ""
    before: float | None = None
    now: float | None = None


class QuestionView(Part):
    kind: str
    sentence: str  # as it was asked, where its kind has no words in `question.*`; else ''
    about: dict[str, object] = Field(default_factory=dict)


class SetAside(Part):
    """A file of which lines could not be read and count nowhere."""

    file: str
    lines: int


class DoseMark(Part):
    """Glucose given, at its place in the strip."""

    minute: float
    grams: float | None
    may_be_weaker: bool


class Tick(Part):
    minute: float
    hour: int  # of the local clock


class Strip(Part):
    """One noon to the next. Minutes count real time from `from_utc`; a strip over a clock change has 23 or 25 hours."""

    from_utc: datetime
    to_utc: datetime
    begins: date
    trace: tuple[tuple[Point, ...], ...]  # broken at gaps
    above: tuple[tuple[float, float], ...]  # (from, to) minutes of readings above the highest level drawn
    lows: tuple[tuple[float, float], ...]  # (from, to) minutes
    doses: tuple[DoseMark, ...]
    paths: tuple[tuple[Point, ...], ...]  # untreated paths, one a treatment
    night: tuple[tuple[float, float], ...]  # minutes of the band that holds the small hours
    ticks: tuple[Tick, ...]

    @property
    def minutes(self) -> float:
        return (self.to_utc - self.from_utc).total_seconds() / 60

    @property
    def clock_changes(self) -> bool:
        return self.minutes != 24 * 60


class Measured(Part):
    """What one treatment showed: the part that a low's row and a row of glucose given early share."""

    first_dose_utc: datetime
    last_dose_utc: datetime
    treatment_class: str  # for_low | given_early | other
    band: str
    doses_n: int
    grams: float | None
    may_be_weaker: bool
    sources: tuple[str, ...]
    start_seen_mg_dl: float | None
    slope_mg_dl_per_min: float | None
    rise_seen_mg_dl: float | None
    rise_estimated_mg_dl: float | None  # against the untreated path; the rise seen is against the level at the start
    above_180_within_2h: bool
    factor_mg_dl_per_g: float | None
    verdict: str  # used | set_aside
    reasons: tuple[str, ...]
    noticed: tuple[str, ...] = ()  # child | sensor | adult: who noticed, in order of time
    again_in_low_utc: datetime | None = None  # begin of the low in which it was given, after that low's own treatment


class LowView(Part):
    start_utc: datetime
    end_utc: datetime | None
    minutes: float | None  # null while it is open
    nadir_mg_dl: float
    below_range: bool
    level: int
    prolonged: bool
    one_reading: bool
    outcome: str
    probability_treated: float | None
    probability_dip: float | None
    lain_upon: bool  # it may be called lying on the sensor
    by_night: bool  # some of it lies in the night's hours
    noticed_by: str | None = None  # child | sensor | adult | nobody; null where the log does not tell
    grams: float | None
    minutes_to_glucose: float | None
    minutes_to_70: float | None
    second_amount: bool
    above_180_within_2h: bool
    evidence: tuple[str, ...]
    treatment: Measured | None
    within_utc: datetime | None  # first dose of the earlier treatment that this low's glucose belongs to

    @property
    def nothing_logged(self) -> bool:
        """No glucose, food or glucagon is in the log for it. Doubt about the sensor is no entry in a log."""
        return self.outcome == "nothing_logged" or "nothing_in_log" in self.evidence


class GivenWeek(Part):
    """The week's glucose in one line. A time is a mark in the strips; amounts within an hour make one treatment."""

    times_n: int
    grams: float
    treatments_n: int
    used_n: int
    above_180_n: int  # treatments with a level above 180 within two hours


class BandGrams(Part):
    band: str
    hours: str  # of that week
    grams: float


class Day(Part):
    """One noon to the next in numbers; `grams` are those logged with a known amount."""

    begins: date
    grams: float
    grams_by_band: tuple[BandGrams, ...]
    amounts_unknown_n: int
    lows_n: int
    covered: float  # share of the time for which a reading stands, 0..1
    longest_gap_minutes: float


class Coverage(Part):
    covered: float
    readings_n: int
    usual_step_minutes: float | None
    fingers_n: int
    insulin_logged: bool


class PredictionCheck(Part):
    """Readings predicted before they were learned from: how many of the latest lay in their 90 % interval."""

    inside: int
    seen: int


class ZoneFrom(Part):
    """The zone in which days are read from a local day on."""

    from_on: date
    zone: str


class WeeklyView(Part):
    """The week of seven nights that ends on `week_end` at noon, [start, end)."""

    person_id: str
    name: str
    language: str
    unit: str
    zone: str
    zones: tuple[ZoneFrom, ...]  # those of the week's days, in order; more than one after a journey
    week_end: date
    from_utc: datetime
    to_utc: datetime
    written_at_utc: datetime
    as_of_utc: datetime
    model_version: str
    born: date
    age_years: float
    delivery: str  # injections | pump | automated | ''
    night_band: str  # name of the band tinted in the strips
    night_hours: str  # its hours in that week
    rise_from_minutes: float  # the rise seen is the highest reading of these minutes after the first dose
    rise_to_minutes: float
    reference_grams: float | None  # the reference amount of the rise factor at today's weight, g
    factors: tuple[FactorView, ...]
    changes: tuple[Change, ...]
    cards: tuple[CardState, ...]  # every card that is out, by number
    questions: tuple[QuestionView, ...]
    files_held: int  # files of the person that wait, of which nothing counts
    set_aside: tuple[SetAside, ...]  # of files taken in from the week's first noon until this was written
    strips: tuple[Strip, ...]
    team: tuple[LowView, ...]  # the lows that the team should hear of, the gravest first
    prolonged_minutes: float  # a longer low is called prolonged
    given_week: GivenWeek
    weaker_sources: tuple[str, ...]  # sources of this week that may hold 9 % less than printed
    lows: tuple[LowView, ...]  # the worst of them, by time
    lows_annex: tuple[LowView, ...]  # the rest, by time
    given: tuple[Measured, ...]  # glucose given without a low
    days: tuple[Day, ...]
    coverage: Coverage
    predictions: PredictionCheck | None
    rests_on: tuple[str, ...]
    log_next: str
    cautions: tuple[str, ...]
    supplies: SuppliesView | None = None  # null where nothing was counted, mixed or judged

    def hours_of(self, band: str) -> str:
        """The hours of the band a number is of, '' when no number is of it."""
        return next((factor.hours for factor in self.factors if factor.band == band), "")
