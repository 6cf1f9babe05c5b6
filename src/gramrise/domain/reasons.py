"""The closed table of reasons: what each does to a pairing, and its sentence for the parent and for the clinic."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Effect(StrEnum):
    """What a reason does to a pairing."""

    NOTE = "note"  # printed, changes nothing
    WIDEN = "widen"  # more doubt, still used
    CUT = "cut"  # shortens the window; sets aside when too little of it is left
    SET_ASIDE = "set aside"  # shown, never taught


class Verdict(StrEnum):
    USED = "used"
    SET_ASIDE = "set_aside"


@dataclass(frozen=True, slots=True)
class Reason:
    code: str
    effect: Effect
    parent: str
    clinic: str


def _table(*rows: tuple[str, Effect, str, str]) -> dict[str, Reason]:
    return {row[0]: Reason(*row) for row in rows}


REASONS: Final = _table(
    ("many_doses", Effect.NOTE, "Glucose was given more than once.", "Two or more amounts chained within 60 minutes."),
    (
        "started_above_target",
        Effect.NOTE,
        "The level was already at the target when glucose was given.",
        "First glucose taken at or above the person's target level.",
    ),
    (
        "one_reading",
        Effect.NOTE,
        "The low was seen on a single reading.",
        "The low rests on one reading of a sensor with steps of 15 minutes or longer.",
    ),
    (
        "insulin_near",
        Effect.WIDEN,
        "Insulin was given in the hours before.",
        "Rapid insulin within its action time before the first glucose; its pull on the untreated path is estimated.",
    ),
    (
        "food_before",
        Effect.WIDEN,
        "Food was eaten in the hours before.",
        "Other carbohydrate within its action time before the first glucose: part of the rise may be its tail.",
    ),
    (
        "activity_near",
        Effect.WIDEN,
        "There was sport around this time.",
        "Activity logged near the treatment; glucose need may be raised.",
    ),
    ("illness_near", Effect.WIDEN, "There was illness around this time.", "Illness logged near the treatment."),
    (
        "lag_unsure",
        Effect.WIDEN,
        "The level was falling fast, so the sensor may have been late.",
        "Fast fall at the first glucose: the sensor's start may be too high by its lag.",
    ),
    (
        "time_doubtful",
        Effect.WIDEN,
        "The time written down may be off.",
        "The logged time and the start of the rise disagree, or the time was marked uncertain.",
    ),
    (
        "delivery_changed",
        Effect.WIDEN,
        "The way insulin is delivered changed recently.",
        "Insulin delivery changed shortly before: the level is learned afresh after the change.",
    ),
    (
        "cut_short",
        Effect.CUT,
        "Food came soon after, so only the first part counts.",
        "Food or other carbohydrate after the first glucose cuts the window of observation.",
    ),
    (
        "gap_in_readings",
        Effect.SET_ASIDE,
        "Too many readings are missing around this time.",
        "Readings missing in the response window beyond what the path can bridge.",
    ),
    (
        "below_sensor_range",
        Effect.SET_ASIDE,
        "The sensor showed 'below range' all the time.",
        "All readings of the response window are censored below the sensor's range.",
    ),
    (
        "no_run_in",
        Effect.SET_ASIDE,
        "There are too few readings before the glucose.",
        "Too few readings before the first glucose to estimate the untreated path.",
    ),
    (
        "amount_unknown",
        Effect.SET_ASIDE,
        "The amount was not written down.",
        "No amount, or an amount without a known strength, so no grams.",
    ),
    (
        "mixed_with_food",
        Effect.SET_ASIDE,
        "Other food was eaten with it.",
        "Other carbohydrate at the same time: the rise is not the glucose's alone.",
    ),
    (
        "vomited",
        Effect.SET_ASIDE,
        "There was vomiting.",
        "Vomiting near the treatment: the amount absorbed is unknown.",
    ),
    (
        "glucagon_near",
        Effect.SET_ASIDE,
        "Glucagon was given around this time.",
        "Glucagon within its action time: it raises the level by itself.",
    ),
    (
        "sensor_new",
        Effect.SET_ASIDE,
        "The sensor had just been changed.",
        "First hours of a new sensor: readings are less accurate.",
    ),
    (
        "sensor_doubt",
        Effect.SET_ASIDE,
        "The sensor may have been wrong, perhaps lain upon.",
        "Likely pressure dip or disagreement with a finger-stick.",
    ),
    (
        "untimed",
        Effect.SET_ASIDE,
        "Nobody wrote down when it was eaten.",
        "Glucose proved by a container count, without a time.",
    ),
    (
        "weight_unknown",
        Effect.SET_ASIDE,
        "The body weight at that time is not known.",
        "No weight on or before the day from which one could be carried.",
    ),
    (
        "maybe_twice",
        Effect.SET_ASIDE,
        "This may be the same glucose written down twice.",
        "Equal amounts within 5 minutes from different imports; asked, not taught.",
    ),
    (
        "says_little",
        Effect.SET_ASIDE,
        "What followed does not show how far 1 g raised.",
        "The factor is known no better from this treatment than from the weight table: no number is told for it.",
    ),
)
