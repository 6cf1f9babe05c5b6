"""The closed word lists of the findings: classes, outcomes, states, deliveries, kinds of surrounding events."""

from enum import StrEnum


class TreatmentClass(StrEnum):
    FOR_LOW = "for_low"  # first dose from 30 min before a low's start to its end
    GIVEN_EARLY = "given_early"  # above 70 and falling, no low within 30 min after
    OTHER = "other"


class Outcome(StrEnum):
    TREATED = "treated"
    TREATED_UNTIMED = "treated_untimed"
    FOOD_COVERED = "food_covered"
    SENSOR_DOUBT = "sensor_doubt"
    NOTHING_LOGGED = "nothing_logged"
    EASED = "eased"  # only where the log is declared complete
    OPEN = "open"


class Range(StrEnum):
    IN = "in"
    BELOW = "below"
    ABOVE = "above"


class State(StrEnum):
    """State of the card in one band."""

    OWN = "own"
    THIN = "thin"
    WITHHELD = "withheld"


class Delivery(StrEnum):
    INJECTIONS = "injections"
    PUMP = "pump"
    AUTOMATED = "automated"


class EventKind(StrEnum):
    """What else was logged around a treatment."""

    INSULIN = "insulin"  # amount in U
    FOOD = "food"  # amount in g of carbohydrate; null: food without grams
    ACTIVITY = "activity"
    ILLNESS = "illness"
    GLUCAGON = "glucagon"
    VOMITED = "vomited"
    SENSOR_START = "sensor_start"
    NOTE = "note"
