"""Frame contracts: the columns, types, units and order of every frame handed from one floor to the next.

A frame is checked once, where it enters a floor: `READINGS.check(frame)`. Times are datetime[us, UTC] throughout;
glucose is mg/dL, amounts of glucose are grams of anhydrous glucose.
"""

from dataclasses import dataclass
from typing import Final

import polars as pl

from gramrise.domain.problems import ColumnsMissing

UTC: Final = pl.Datetime("us", "UTC")
TEXT: Final = pl.String()
NUMBER: Final = pl.Float64()
COUNT: Final = pl.Int32()
FLAG: Final = pl.Boolean()
LABELS: Final = pl.List(pl.String)


@dataclass(frozen=True, slots=True)
class Column:
    name: str
    dtype: pl.DataType
    meaning: str


@dataclass(frozen=True, slots=True)
class FrameContract:
    """What a frame holds, and in which order its rows stand."""

    name: str
    columns: tuple[Column, ...]
    order: tuple[str, ...]

    @property
    def schema(self) -> dict[str, pl.DataType]:
        return {column.name: column.dtype for column in self.columns}

    def empty(self) -> pl.DataFrame:
        return pl.DataFrame(schema=self.schema)

    def check(self, frame: pl.DataFrame) -> pl.DataFrame:
        """The frame with exactly these columns in this order, rows sorted. Raises ColumnsMissing."""
        have, wanted = dict(frame.schema), self.schema
        if list(have.items()) == list(wanted.items()):  # the common case by far, and cheap: nothing to choose or cast
            return frame if _in_order(frame, self.order) else frame.sort(self.order, maintain_order=True)
        missing = [name for name in wanted if name not in have]
        wrong = [
            f"{name} is {have[name]}, not {dtype}"
            for name, dtype in wanted.items()
            if name in have and have[name] != dtype and not (frame.height == 0 or have[name] == pl.Null)
        ]
        if missing or wrong:
            raise ColumnsMissing(self.name, missing, wrong)
        chosen = frame.select(pl.col(name).cast(dtype) for name, dtype in wanted.items())
        return chosen.sort(self.order, maintain_order=True)


def _in_order(frame: pl.DataFrame, order: tuple[str, ...]) -> bool:
    """Whether rows of one person stand in their order already; False too where that cannot be told cheaply."""
    if frame.height < 2:
        return True
    whose, first = frame[order[0]], frame[order[1]]
    if whose[0] != whose[-1] or not whose.is_sorted() or not first.is_sorted():
        return False
    return len(order) == 2 or first.n_unique() == frame.height


def _contract(name: str, order: tuple[str, ...], *columns: tuple[str, pl.DataType, str]) -> FrameContract:
    return FrameContract(name, tuple(Column(*column) for column in columns), order)


READINGS: Final = _contract(
    "readings",
    ("person_id", "at_utc"),
    ("person_id", TEXT, "whose"),
    ("at_utc", UTC, "instant of the reading; one row an instant"),
    ("glucose_mg_dl", NUMBER, "the value; for range below / above the bound beyond which the true value lies"),
    ("range", TEXT, "in | below | above"),
    ("offset_minutes", COUNT, "local offset east of UTC as the file had it, null when it had none"),
)

FINGERS: Final = _contract(
    "fingers",
    ("person_id", "at_utc"),
    ("person_id", TEXT, "whose"),
    ("at_utc", UTC, "instant of the finger-stick; never part of the trace"),
    ("glucose_mg_dl", NUMBER, "the value, or the bound"),
    ("range", TEXT, "in | below | above"),
)

DOSES: Final = _contract(
    "doses",
    ("person_id", "taken_at_utc", "source", "ordinal"),
    ("person_id", TEXT, "whose"),
    ("taken_at_utc", UTC, "instant it was swallowed"),
    ("source", TEXT, "name of the source; '' when the log gives grams alone"),
    ("ordinal", COUNT, "1, 2, ... among doses of one source in one minute"),
    ("form", TEXT, "tablet | liquid | gel | unknown"),
    ("amount", NUMBER, "as logged, in amount_unit; null when unknown"),
    ("amount_unit", TEXT, "piece | mL | g; '' when unknown"),
    ("grams", NUMBER, "anhydrous glucose, g > 0; null when the amount or the strength is unknown"),
    ("may_be_weaker", FLAG, "nobody said what the printed grams are of: may hold 9 % less"),
    ("remarks", LABELS, "reason codes known from the log: mixed_with_food, vomited, maybe_twice, time_doubtful ..."),
    ("origin", TEXT, "file | note | give | count | answer: how it was logged"),
    ("noticed", TEXT, "who noticed that glucose was needed: child | sensor | adult; '' where nobody says"),
)

EVENTS: Final = _contract(
    "events",
    ("person_id", "at_utc", "kind"),
    ("person_id", TEXT, "whose"),
    ("at_utc", UTC, "when it began"),
    ("until_utc", UTC, "when it ended; null for an instant or an unknown end"),
    ("kind", TEXT, "insulin | food | activity | illness | glucagon | vomited | sensor_start | note"),
    ("amount", NUMBER, "U of rapid insulin, g of carbohydrate; null when not stated or of no amount"),
    ("text", TEXT, "what the log says; '' when nothing"),
)

WEIGHTS: Final = _contract(
    "weights",
    ("person_id", "on"),
    ("person_id", TEXT, "whose"),
    ("on", pl.Date(), "local date of the weighing"),
    ("kg", NUMBER, "body weight, kg"),
)

# Records of open standards by their identity at the sender: a newer version of one, or its withdrawal, finds it again.
SOURCE_RECORDS: Final = _contract(
    "source_records",
    ("person_id", "record"),
    ("person_id", TEXT, "whose"),
    ("record", TEXT, "identity at the sender, with the name it gives to the person; one row each"),
    ("kind", TEXT, "readings | fingers | doses | weights | an event's kind; '' for a withdrawal"),
    ("first_utc", UTC, "first instant it states; of a weighing the day, at 00:00 UTC; null for a withdrawal"),
    ("last_utc", UTC, "last instant it states"),
    ("step_us", pl.Int64(), "microseconds between the instants of a series; 0 for a single one"),
    ("updated_utc", UTC, "when this version was made; null where that is not said"),
    ("withdrawn", FLAG, "its sender takes it back"),
)

LOWS: Final = _contract(
    "lows",
    ("person_id", "start_utc"),
    ("person_id", TEXT, "whose"),
    ("start_utc", UTC, "first reading below 70"),
    ("end_utc", UTC, "first of the readings at or above 70 that ended it, or where the trace broke off; null: open"),
    ("nadir_mg_dl", NUMBER, "lowest value"),
    ("nadir_at_utc", UTC, "first instant of the lowest value"),
    ("level", COUNT, "1: below 70 for 15 minutes; 2: also below 54 for 15 minutes"),
    ("prolonged", FLAG, "long enough to be called prolonged (setting)"),
    ("one_reading", FLAG, "rests on one reading of a 15-minute sensor"),
    ("below_range", FLAG, "some value lay below the sensor's range"),
    ("ended_by_gap", FLAG, "the trace broke off before the level was seen to return"),
    ("outcome", TEXT, "treated | treated_untimed | food_covered | sensor_doubt | nothing_logged | eased | open"),
    ("probability_treated", NUMBER, "that glucose was given: 1 where logged, else judged from the recovery; 0..1"),
    ("probability_dip", NUMBER, "that the sensor was lain upon rather than the level low; 0..1"),
    ("grams", NUMBER, "glucose logged for it, g; 0 when none, null when an amount is unknown"),
    ("first_dose_utc", UTC, "first logged dose for it; null when none"),
    ("minutes_to_glucose", NUMBER, "from start to first dose; negative when given before; null when none"),
    ("minutes_to_70", NUMBER, "from first dose (else from nadir) to the first reading back at 70; null when not seen"),
    ("above_180_within_2h", FLAG, "a reading above 180 within two hours of the end"),
    ("second_amount", FLAG, "a second amount followed the first"),
    ("evidence", LABELS, "codes of what the outcome rests on"),
)

TREATMENTS: Final = _contract(
    "treatments",
    ("person_id", "first_dose_utc"),
    ("person_id", TEXT, "whose"),
    ("first_dose_utc", UTC, "identity together with person_id"),
    ("last_dose_utc", UTC, "last dose of the chain"),
    ("class", TEXT, "for_low | given_early | other"),
    ("doses_n", COUNT, "doses in the chain"),
    ("grams", NUMBER, "sum of its doses, g; null when any is unknown"),
    ("sources", LABELS, "names of its sources in order of first use"),
    ("form", TEXT, "form of its first dose; 'mixed' when its doses differ"),
    ("band", TEXT, "time band of the first dose"),
    ("low_start_utc", UTC, "start of the low it was for; null when none"),
)

# What programs read of treatments: also who noticed, which is logged with their doses.
TREATMENTS_NOTICED: Final = _contract(
    "treatments",
    ("person_id", "first_dose_utc"),
    *((c.name, c.dtype, c.meaning) for c in TREATMENTS.columns),
    ("noticed", LABELS, "who noticed that it was needed, in order of time: child | sensor | adult; empty: not told"),
)

# What detect hands to estimate: each treatment judged, before its rise is known.
SCREENED: Final = _contract(
    "screened",
    ("person_id", "first_dose_utc"),
    *((c.name, c.dtype, c.meaning) for c in TREATMENTS.columns),
    ("verdict", TEXT, "used | set_aside"),
    ("reasons", LABELS, "every reason that bites, codes of domain.reasons, in the table's order"),
    ("window_from_utc", UTC, "first instant of the run-in that may be read"),
    ("window_to_utc", UTC, "end of the response that may be read, exclusive; cut by food, next treatment, gap"),
    ("start_seen_mg_dl", NUMBER, "last reading at or before the first dose; null when none within 20 min"),
    ("rise_seen_mg_dl", NUMBER, "highest reading 20-75 min after the first dose minus start seen; null when none"),
    (
        "slope_mg_dl_per_min",
        NUMBER,
        "least squares over the last 20 min or 3 steps; null under 3 readings",
    ),
    ("insulin_on_board_units", NUMBER, "rapid insulin still acting at the first dose, U; null where none is logged"),
)

PAIRINGS: Final = _contract(
    "pairings",
    ("person_id", "first_dose_utc"),
    *((c.name, c.dtype, c.meaning) for c in SCREENED.columns),
    ("weight_kg", NUMBER, "body weight on that day, carried along growth; null when unknown"),
    ("start_estimated_mg_dl", NUMBER, "level at the first dose by the model; null when not estimated"),
    ("rise_estimated_mg_dl", NUMBER, "peak of the estimated rise of all its doses; null when not estimated"),
    ("factor_mg_dl_per_g", NUMBER, "this treatment's own rise factor before shrinkage; null when not estimated"),
    ("factor_sd_mg_dl_per_g", NUMBER, "its standard deviation, widened by its reasons"),
)

PATHS: Final = _contract(
    "paths",
    ("person_id", "first_dose_utc", "at_utc"),
    ("person_id", TEXT, "whose"),
    ("first_dose_utc", UTC, "of the treatment"),
    ("at_utc", UTC, "instant, every 5 minutes of the window"),
    ("untreated_mg_dl", NUMBER, "where the level was heading"),
    ("untreated_sd_mg_dl", NUMBER, "its standard deviation"),
    ("fitted_mg_dl", NUMBER, "untreated path plus the estimated rise"),
)

FACTORS: Final = _contract(
    "factors",
    ("person_id", "band", "as_of_utc"),
    ("person_id", TEXT, "whose"),
    ("band", TEXT, "time band"),
    ("as_of_utc", UTC, "instant for which it holds"),
    ("weight_kg", NUMBER, "body weight then, kg"),
    ("factor_mg_dl_per_g", NUMBER, "posterior median of the rise factor"),
    ("p05_factor_mg_dl_per_g", NUMBER, "lower end of the 90 % interval, all doubt in it"),
    ("p95_factor_mg_dl_per_g", NUMBER, "upper end of the 90 % interval"),
    ("starting_mg_dl_per_g", NUMBER, "the starting table's value at this weight"),
    ("weight_adjusted_mg_dl_kg_per_g", NUMBER, "factor x body weight"),
    ("pairings_used", COUNT, "used pairings of this band"),
    ("state", TEXT, "own | thin | withheld"),
    ("sd_log", NUMBER, "sd of the log factor, all doubt in it"),
    ("sd_log_lasting", NUMBER, "the part more treatments cannot remove"),
    ("event_sd_log", NUMBER, "scatter of single treatments about the band's level, sd of log"),
)

COURSES: Final = _contract(
    "courses",
    ("person_id", "form"),
    ("person_id", TEXT, "whose"),
    ("form", TEXT, "tablet, liquid or gel"),
    ("minutes_to_half", NUMBER, "from swallowing until the blood has risen by half of its peak; median"),
    ("p05_minutes_to_half", NUMBER, "lower end of its 90 % interval"),
    ("p95_minutes_to_half", NUMBER, "upper end"),
    ("minutes_to_peak", NUMBER, "until the blood stands highest; median"),
    ("share_left_90", NUMBER, "share of the peak that is left 90 minutes after swallowing; median"),
    ("p05_share_left_90", NUMBER, "lower end of its 90 % interval"),
    ("p95_share_left_90", NUMBER, "upper end"),
)

PREDICTIONS: Final = _contract(
    "predictions",
    ("person_id", "first_dose_utc", "minutes_after"),
    ("person_id", TEXT, "whose"),
    ("first_dose_utc", UTC, "of the treatment"),
    ("minutes_after", COUNT, "30 or 45"),
    ("predicted_mg_dl", NUMBER, "median predicted before the treatment was learned from"),
    ("p05_mg_dl", NUMBER, "lower end of its 90 % interval"),
    ("p95_mg_dl", NUMBER, "upper end"),
    ("seen_mg_dl", NUMBER, "the reading; null when none within 5 minutes"),
    ("inside", FLAG, "seen lies in the interval; null when not seen"),
)
