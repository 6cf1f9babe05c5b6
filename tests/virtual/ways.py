"""What the loop of living is given and gives back: habits, chance, body, planned days, and the life lived."""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from virtual.hovorka import Floats

MU_PER_U: Final = 1000.0
CHAIN_MIN: Final = 60  # our rule: doses chained with under 60 minutes between neighbours are one treatment
MOST_DOSES_PER_DAY: Final = 24  # size of the record only; never reached by the shipped settings

# Columns of the record of doses.
MINUTE, GRAMS, LIQUID, AMOUNT, TREATMENT, ABSORBED_MMOL, ABSORPTION_MIN = range(7)
DOSE_COLUMNS: Final = 7


class Habits(NamedTuple):
    """One person's ways, and the numbers the loop needs about them."""

    basal_mu_min_kg: float
    grams_per_unit: float  # carbohydrate covered by 1 U
    drop_per_unit_mg_dl: float
    insulin_times: float  # mealtime insulin times this, basal times its root: set by the wanted number of doses
    correct_above_mg_dl: float
    correct_to_mg_dl: float
    grams_per_piece: float
    grams_per_ml: float
    believed_k: float
    exponent: float
    exponent_memory_min: int
    food_time_min: float
    bioavailability: float
    awake_chance: float  # a minute, below the threshold
    asleep_chance: float
    early_chance: float
    early_below_mg_dl: float
    early_slope: float
    early_ahead_min: float
    early_ahead_mg_dl: float
    aim_mg_dl: float
    slope_minutes: float
    amount_sd_log: float
    most_grams_per_kg: float
    again_after_min: int
    again_below_mg_dl: float
    food_instead_share: float
    food_after_share: float
    food_after_least_min: float
    food_after_most_min: float
    food_least_g: float
    food_most_g: float
    liquid_at_night_share: float
    suspends: bool
    suspend_below_mg_dl: float
    suspend_ahead_min: float
    suspend_most_min: float


class Draws(NamedTuple):
    """Chance, drawn beforehand so that two lives with the same draws differ only by what was changed."""

    chance: Floats  # (minutes, 4) uniform
    amount: Floats  # (minutes,) normal
    awake_threshold: Floats  # by local day, mg/dL
    asleep_threshold: Floats
    early_day: NDArray[np.bool_]
    ignored_day: NDArray[np.bool_]
    treatment_gain: Floats  # by treatment number: absorbed share times this
    treatment_time: Floats  # by treatment number: absorption time times this


class Body(NamedTuple):
    """How this person takes up measured glucose."""

    gain: Floats  # (2,) by band: absorbed share times this, so that the band's true factor comes out as aimed
    gain_times: Floats  # by local day: times this (a step in the factor)
    absorption_min: Floats  # (2,) time constant of pieces and liquid, min
    reference_g_per_kg: float


class Plan(NamedTuple):
    """The planned days as bare arrays, by minute."""

    kg: Floats
    local_day: NDArray[np.int64]
    band: NDArray[np.int64]
    awake: NDArray[np.bool_]
    food_g: Floats
    bolus_for_g: Floats
    sensitivity: Floats
    flux: Floats
    basal_share: Floats


class Life(NamedTuple):
    """What happened, by minute, and the records of doses."""

    level_mg_dl: Floats
    tissue_mg_dl: Floats
    insulin_mu: Floats  # delivered in the minute, basal and bolus
    bolus_units: Floats
    food_g: Floats
    food_in_mmol: Floats  # absorbed in the minute
    glucose_in_mmol: Floats
    doses: Floats  # (doses, DOSE_COLUMNS)
    states: Floats  # (doses, 9): the state in the minute of the dose, before it
