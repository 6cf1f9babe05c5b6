"""The closed tables of outcomes of a low and of their evidence: a sentence for the parent, one for the clinic."""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Told:
    """A code and what it says to whom."""

    code: str
    parent: str
    clinic: str


def _table(*rows: tuple[str, str, str]) -> dict[str, Told]:
    return {row[0]: Told(*row) for row in rows}


OUTCOMES: Final = _table(
    (
        "treated",
        "Glucose was given and written down.",
        "Measured glucose logged from 30 minutes before the low to its end.",
    ),
    (
        "treated_untimed",
        "Glucose was given; nobody wrote down when.",
        "Measured glucose is proved for this low, without an instant.",
    ),
    (
        "food_covered",
        "Food or glucagon was written down, no measured glucose.",
        "Other carbohydrate or glucagon logged around the low, and no measured glucose.",
    ),
    (
        "sensor_doubt",
        "The sensor may well have been wrong here.",
        "The trace or a finger-stick speaks for a sensor artefact rather than a low; the evidence is listed.",
    ),
    (
        "nothing_logged",
        "Nothing was written down for this low.",
        "No carbohydrate or glucagon logged; the probability that glucose was given is judged from the recovery.",
    ),
    (
        "eased",
        "The low passed by itself.",
        "Nothing logged while the log was declared complete: recovery without carbohydrate.",
    ),
    (
        "open",
        "How this low ended was not seen.",
        "The trace ends or breaks off before 15 minutes at or above 70 mg/dL, with nothing logged that tells more.",
    ),
)

EVIDENCE: Final = _table(
    ("glucose_logged", "Glucose is in the log.", "Measured glucose logged for the low."),
    (
        "glucose_untimed",
        "Glucose is in the log without a time.",
        "Measured glucose logged or counted, without an instant.",
    ),
    ("food_logged", "Food is in the log.", "Carbohydrate other than measured glucose logged around the low."),
    ("glucagon_logged", "Glucagon is in the log.", "Glucagon logged around the low."),
    ("nothing_in_log", "The log has nothing here.", "No carbohydrate or glucagon logged around the low."),
    ("log_complete", "The log is complete, as you declared.", "The log was declared complete on that day."),
    (
        "rose_like_treated",
        "The level came back as it does after glucose.",
        "Recovery faster than untreated recoveries: speaks for carbohydrate that was not logged.",
    ),
    (
        "rose_like_untreated",
        "The level came back slowly, as it does by itself.",
        "Recovery as slow as untreated recoveries: speaks against carbohydrate.",
    ),
    (
        "looks_like_dip",
        "It looks like lying on the sensor: a sudden drop, then back to where it was.",
        "Shape of a pressure artefact: abrupt drop, first-order return to the level expected without it.",
    ),
    (
        "finger_disagreed",
        "A finger-stick said otherwise.",
        "A finger-stick during the low lies further from the sensor than both errors allow.",
    ),
    ("finger_agreed", "A finger-stick showed the low, too.", "A finger-stick during the low was below 70 mg/dL."),
    ("sensor_new", "The sensor had just been changed.", "First hours of a new sensor."),
    (
        "two_traces",
        "Two sensors seem to be mixed in these readings.",
        "Interleaved readings disagree: two traces in one, or one trace imported twice with other times.",
    ),
    ("one_reading", "It rests on a single reading.", "One reading below 70 mg/dL of a 15-minute sensor."),
    ("trace_broke_off", "The readings stop before the level came back.", "Gap before the return was seen."),
    ("still_going", "It was still going on at the last reading.", "No return seen up to the last reading."),
)
